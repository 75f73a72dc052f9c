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


def waited(program):
    """Its exit code, and what it took of the processor with all that it started and waited for, s."""
    _, status, used = os.wait4(program.pid, 0)
    program.returncode = os.waitstatus_to_exitcode(status)
    return program.returncode, used.ru_utime + used.ru_stime


def run(part):
    """Runs one part; its exit code and the lines it said, which are printed in one piece."""
    begun = time.monotonic()
    step_back = (lambda: os.nice(part.behind)) if part.behind else None
    program = subprocess.Popen(part.command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, preexec_fn=step_back)
    lines = program.stdout.read().splitlines()
    code, processor_s = waited(program)
    head = f"== {part.name}, {time.monotonic() - begun:.0f} s, {processor_s:.0f} s of the processor"
    print("\n".join([head, *lines]), flush=True)
    return code, lines


def run_lanes(lanes):
    """Runs all lanes; code and lines of every part that ran, by its name."""
    lanes = [lane for lane in lanes if lane]
    if not lanes:
        return {}
    with ThreadPoolExecutor(len(lanes)) as pool:
        ended = pool.map(lambda lane: {part.name: run(part) for part in lane}, lanes)
        return {name: said for lane in ended for name, said in lane.items()}
