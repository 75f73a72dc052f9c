"""Runs the test programs of the workspace side by side: many of them wait more than they reckon, for
programs that are killed, for guardians, for sound in real time.

    run_tests.py [beside | alone] [CARGO OPTION ...]

What `cargo test` runs, one more at a time than there are processors, and the examples in the documentation; at last, one by
one, the programs that need the machine for themselves. `beside` and `alone` run but the former or the latter. One line for
each program, all of its words where it failed.
"""

import json
import os
import pathlib
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "checks"))
from lanes import told

AT_ONCE = 1 + (os.cpu_count() or 1)
# Those that wait longest begin first, so that none is left alone at the end.
FIRST = ["receiver", "turned", "together", "copy", "desk", "live", "learning", "shelf_language", "some_seconds"]
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
    environment = dict(os.environ, CARGO_MANIFEST_DIR=str(folder))
    code, words, took = told([path], cwd=folder, env=environment, stdin=subprocess.DEVNULL)
    sums = [line for line in words.splitlines() if line.startswith("test result:")]
    said = "; ".join(sums).removeprefix("test result: ") or f"exit {code}"
    print(f"{folder.name} {name}, {took}: {said}\n{words if code else ''}", end="", flush=True)
    return code == 0


def together(all_programs):
    """Runs programs side by side, those that wait longest first; the names of those that failed."""
    order = {name: place for place, name in enumerate(FIRST)}
    with ThreadPoolExecutor(AT_ONCE) as pool:
        begun = sorted(all_programs, key=lambda one: order.get(one[0], len(FIRST)))
        return [one[0] for one, passed in zip(begun, pool.map(run, begun)) if not passed]


def examples(options):
    """Runs the examples in the documentation; a name if one failed."""
    done = subprocess.run(["cargo", "test", "--quiet", "--workspace", "--doc", *options])
    return ["examples"] if done.returncode else []


def main():
    # Tests interrupt programs: a shell that put us into the background must not have them ignore that.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    chosen = next((word for word in ("beside", "alone") if sys.argv[1:2] == [word]), None)
    options = sys.argv[2:] if chosen else sys.argv[1:]
    all_programs, count, failed = list(programs(options)), 0, []
    if chosen != "alone":
        beside = [one for one in all_programs if one[0] not in ALONE]
        count += len(beside)
        failed += together(beside) + examples(options)
    if chosen != "beside":
        alone = [one for one in all_programs if one[0] in ALONE]
        count += len(alone)
        failed += [one[0] for one in alone if not run(one)]
    print(f"{count} test programs, {len(failed)} failed {' '.join(failed)}".rstrip(), flush=True)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
