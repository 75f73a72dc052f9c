"""Lints, tests and checks of what is compiled, side by side; called by `tools/tested`.

Checks that wait for the clock come first for the processor, then lints and test programs, then the checks that compute: so
nothing waits while there is something to reckon, and what waits is not late. What has to be on time by the clock of the wall
comes last, with nothing beside it.
"""

import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "checks"))

import run_checks
from lanes import Part, run_lanes

TESTS = [sys.executable, str(ROOT / "tools" / "run_tests.py")]
LINTS = ["cargo", "clippy", "--quiet", "--workspace", "--all-targets", "--profile", "test", "--", "--deny", "warnings"]
# How far tests stand behind what waits for the clock (nice, 1): before the checks that compute.
BEHIND = run_checks.BEHIND // 2


def rust():
    """Lints and tests, but for those that need the machine for themselves."""
    # A machine may have Rust without it.
    if subprocess.run(["cargo", "clippy", "--version"], capture_output=True).returncode == 0:
        yield Part("lints", LINTS, BEHIND)
    yield Part("tests", [*TESTS, "beside"], BEHIND)


def main():
    beside, alone = run_checks.lanes(str(ROOT / "target" / "debug" / "markhold"))
    ended = run_lanes([list(rust()), *beside])
    ended |= run_lanes([[Part("tests alone", [*TESTS, "alone"]), *alone]])
    sys.exit(run_checks.close(ended))


if __name__ == "__main__":
    main()
