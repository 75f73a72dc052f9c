"""Runs the test programs of the workspace side by side: many of them wait more than they reckon, for
programs that are killed, for guardians, for sound in real time.

    run_tests.py [CARGO OPTION ...]

What `cargo test` runs, one more at a time than there are processors, then the examples in the documentation. One line for each
program, all of its words where it failed.
"""

import json
import os
import pathlib
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

AT_ONCE = 1 + (os.cpu_count() or 1)
# Those that wait longest begin first, so that none is left alone at the end.
FIRST = ["receiver", "turned", "copy", "some_seconds", "live"]
# Those that are to be on time by the clock of the wall, or wait for what stands back behind all
# others (nice), run by themselves.
ALONE = ["week", "pulse", "kills", "trust"]


def programs(options):
    """(name, path, folder of its crate) of every test program, brought up to date."""
    command = ["cargo", "test", "--workspace", "--no-run", "--message-format", "json-render-diagnostics", *options]
    made = subprocess.run(command, stdout=subprocess.PIPE, text=True)
    if made.returncode:
        sys.exit(made.returncode)
    for line in made.stdout.splitlines():
        told = json.loads(line)
        if told["reason"] == "compiler-artifact" and told["profile"]["test"] and told["executable"]:
            yield told["target"]["name"], told["executable"], pathlib.Path(told["manifest_path"]).parent


def run(program):
    """Whether it passed."""
    name, path, folder = program
    begun = time.monotonic()
    environment = dict(os.environ, CARGO_MANIFEST_DIR=str(folder))
    done = subprocess.run([path], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    sums = [line for line in done.stdout.splitlines() if line.startswith("test result:")]
    said = "; ".join(sums).removeprefix("test result: ") or f"exit {done.returncode}"
    whole = done.stdout if done.returncode else ""
    print(f"{folder.name} {name}, {time.monotonic() - begun:.0f} s: {said}\n{whole}", end="", flush=True)
    return done.returncode == 0


def main():
    # Tests interrupt programs: a shell that put us into the background must not have them ignore that.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    options = sys.argv[1:]
    order = {name: place for place, name in enumerate(FIRST)}
    all_programs = sorted(programs(options), key=lambda one: order.get(one[0], len(FIRST)))
    alone = [one for one in all_programs if one[0] in ALONE]
    together = [one for one in all_programs if one[0] not in ALONE]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        passed = list(pool.map(run, together)) + [run(one) for one in alone]
    failed = [name for (name, _, _), ok in zip(together + alone, passed) if not ok]
    print(f"{len(passed)} test programs, {len(failed)} failed {' '.join(failed)}".rstrip(), flush=True)
    examples = subprocess.run(["cargo", "test", "--quiet", "--workspace", "--doc", *options])
    sys.exit(1 if failed or examples.returncode else 0)


if __name__ == "__main__":
    main()
