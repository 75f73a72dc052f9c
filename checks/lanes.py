"""Parts that run side by side, each a process of its own: lanes begin together, the parts of a lane follow each other."""

import os
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple


class Part(NamedTuple):
    """One part: what it is called, its command, and how far it stands behind others for the processor (nice, 1)."""

    name: str
    command: list
    behind: int = 0


def told(command, **options):
    """Runs a program to its end: its exit code, all that it said, and how long it took, by the clock and of the processor with
    all that it started and waited for, in words."""
    begun = time.monotonic()
    program = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, **options)
    words = program.stdout.read()
    _, status, used = os.wait4(program.pid, 0)
    program.returncode = os.waitstatus_to_exitcode(status)
    took = f"{time.monotonic() - begun:.0f} s, {used.ru_utime + used.ru_stime:.0f} s of the processor"
    return program.returncode, words, took


def run(part):
    """Runs one part; its exit code and the lines it said, which are printed in one piece."""
    step_back = (lambda: os.nice(part.behind)) if part.behind else None
    code, words, took = told(part.command, preexec_fn=step_back)
    lines = words.splitlines()
    print("\n".join([f"== {part.name}, {took}", *lines]), flush=True)
    return code, lines


def run_lanes(lanes):
    """Runs all lanes; code and lines of every part that ran, by its name."""
    lanes = [lane for lane in lanes if lane]
    if not lanes:
        return {}
    with ThreadPoolExecutor(len(lanes)) as pool:
        ended = pool.map(lambda lane: {part.name: run(part) for part in lane}, lanes)
        return {name: said for lane in ended for name, said in lane.items()}
