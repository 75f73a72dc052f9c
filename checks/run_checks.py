"""Runs every check of this folder, two parts side by side; called by `checks/run`.

    run_checks.py PROGRAM [PART ...]   all parts, or those named; the parts are listed below

Each part is a process of its own. Parts that mostly wait for the clock (sound servers, the browser)
follow each other in one lane, parts that compute in the other, behind them for the processor: so
the sound that one part listens to does not stutter because another one reckons. What is sent through a
sound server as it is typed comes after all others, with nothing beside it.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import importlib
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

from report import Report

# Part, and whether it is about the tree alone and not about the program.
COMPUTE = {
    "map": True, "supply": True, "alphabet": False, "generator": True, "copy": False, "air": False, "page": False,
    "filters": False, "bench": False, "shelf": False, "skeds": False, "contacts": False, "reference": False, "tones": False, "send": False,
}
WAIT = {"tonight": False, "desk": False, "sound-output": False, "manual": False, "package": False}
ALONE = {"on-air": False}
PARTS = {**COMPUTE, **WAIT, **ALONE}
# How far computing stands behind waiting for the processor (nice, 1).
BEHIND = 10


def one(binary, part):
    """Makes the checks of a part in this process; whether all passed."""
    report = Report()
    try:
        module = importlib.import_module("check_" + part.replace("-", "_"))
        module.checks(report) if PARTS[part] else module.checks(report, binary)
    except Exception as error:  # a check that breaks is a failed check, the others still run
        report.check(part, False, f"stopped by {type(error).__name__}: {error}")
    return report.close()


def lane(binary, parts, behind):
    """Runs parts one after the other; the lines they said, as each ends."""
    said = []
    for part in parts:
        begun = time.monotonic()
        command = [sys.executable, __file__, binary, "--one", part]
        step_back = (lambda: os.nice(BEHIND)) if behind else None
        done = subprocess.run(command, stdout=subprocess.PIPE, text=True, preexec_fn=step_back)
        lines = done.stdout.splitlines() or [f"FAIL  {part}: said nothing"]
        print(f"== {part}, {time.monotonic() - begun:.0f} s", *lines, sep="\n", flush=True)
        said += lines
    return said


def main():
    binary, chosen = sys.argv[1], sys.argv[2:] or list(PARTS)
    if chosen[0] == "--one":
        sys.exit(0 if one(binary, chosen[1]) else 1)
    unknown = [c for c in chosen if c not in PARTS]
    if unknown:
        sys.exit(f"no part {unknown[0]!r}; parts: {', '.join(PARTS)}")
    lanes = [[c for c in chosen if c in COMPUTE], [c for c in chosen if c in WAIT]]
    both = all(lanes)  # nothing steps back where nothing else runs
    with ThreadPoolExecutor(2) as pool:
        compute, wait = (pool.submit(lane, binary, parts, both and parts is lanes[0]) for parts in lanes)
        said = compute.result() + wait.result()
    said += lane(binary, [c for c in chosen if c in ALONE], False)
    count = {word: sum(line.startswith(word) for line in said) for word in ("pass  ", "FAIL  ", "skip  ")}
    print(f"== all\n{count['skip  ']} skipped\n{count['pass  ']} passed, {count['FAIL  ']} failed")
    sys.exit(1 if count["FAIL  "] else 0)


if __name__ == "__main__":
    main()
