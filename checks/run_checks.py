"""Runs every check of this folder; called by `checks/run`.

    run_checks.py PROGRAM [PART ...]   all parts, or those named; the parts are listed below

Each part is a process of its own, with ports, data and a sound server of its own. Parts that compute follow each other in
one lane. Parts that mostly wait for the clock (sound servers, the browser, a sked that is due) do so in others beside it, before
it for the processor: so the sound that one part listens to does not stutter because another one reckons. What goes through
a sound server and is looked at by the millisecond comes after all others, with nothing beside it: the server itself, which
has no more right to the processor than they, would stutter.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import importlib
import sys

from lanes import Part, run_lanes
from report import Report

# Part, and whether it is about the tree alone and not about the program.
COMPUTE = {
    "map": True, "supply": True, "alphabet": False, "generator": True, "copy": False, "air": False, "page": False,
    "filters": False, "bench": False, "shelf": False, "skeds": False, "contacts": False, "reference": False, "tones": False, "send": False,
}
# Lanes that take about as long as each other: nobody is at the keyboard of the first for minutes.
WAIT = [
    {"tonight-practice": False},
    {"desk": False},
    {"tonight": False, "manual": False, "package": False},
]
ALONE = {"sound-output": False, "on-air": False}
PARTS = {part: tree for lane in (COMPUTE, *WAIT, ALONE) for part, tree in lane.items()}
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


def lane(binary, parts, behind=0):
    """The parts of a lane as processes."""
    return [Part(part, [sys.executable, __file__, binary, "--one", part], behind) for part in parts]


def lanes(binary, chosen=PARTS):
    """The lanes of all parts, or of those chosen: of what computes, then of what waits, then what stands alone."""
    compute, *wait, alone = ([part for part in parts if part in chosen] for parts in (COMPUTE, *WAIT, ALONE))
    behind = BEHIND if any(wait) else 0  # nothing steps back where nothing else runs
    return [lane(binary, compute, behind), *(lane(binary, parts) for parts in wait)], lane(binary, alone)


def close(ended):
    """Counts what all parts said; the exit code."""
    said = [line for _, lines in ended.values() for line in lines]
    count = {word: sum(line.startswith(word) for line in said) for word in ("pass  ", "FAIL  ", "skip  ")}
    failed = [name for name, (code, _) in ended.items() if code]
    print(f"== all\n{count['skip  ']} skipped\n{count['pass  ']} passed, {count['FAIL  ']} failed")
    if failed:
        print(f"parts that failed: {', '.join(failed)}")
    return 1 if failed or count["FAIL  "] else 0


def main():
    binary, chosen = sys.argv[1], sys.argv[2:] or list(PARTS)
    if chosen[0] == "--one":
        sys.exit(0 if one(binary, chosen[1]) else 1)
    unknown = [c for c in chosen if c not in PARTS]
    if unknown:
        sys.exit(f"no part {unknown[0]!r}; parts: {', '.join(PARTS)}")
    beside, alone = lanes(binary, chosen)
    sys.exit(close(run_lanes(beside) | run_lanes([alone])))


if __name__ == "__main__":
    main()
