"""The long tries of what docs/reliability.md promises, side by side on a computer with many processors that
needs neither Rust nor a network.

    long_tries.py build FOLDER                     here: the programs, stripped, and this file beside them
    long_tries.py run [MINUTES [SHARE [LOGS]]]     there, in that folder

Kills while it listens, random ends of what keys a line and of `markhold send`, soaks, damaged bytes
into every reader; each split over several processes with other seeds. SHARE is how much of the usual
counts is tried (1). One table at the end; what was not done within the time is said. The words of
every process are under LOGS (logs).
"""

import collections
import os
import pathlib
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import tempfile
import threading
import time

ROOT = pathlib.Path(__file__).resolve().parent.parent
HERE = pathlib.Path(__file__).resolve().parent
# Test programs that are carried: what cargo is told to build, and whether it is a bench.
CARRIED = {"kills": "--test", "unkeyed": "--test", "ends": "--bench", "soak": "--bench"}
# Tries of each kind in all: what the subject of trust asks for.
KILLS, ENDS, SENDS = 100, 1000, 1000
# Sound comes so much faster than time, in soaks.
SPEED = 40
# All programs, packed.
PACKED = "programs.tar.gz"
# Before the end everything is told to stop, so that the table is printed in time.
SPARE_S = 15


def build(folder):
    """Builds in release, strips, and gathers all that is needed; a C compiler makes the library that
    stands for a port's wires."""
    folder.mkdir(parents=True, exist_ok=True)
    words = [word for name, kind in CARRIED.items() for word in (kind, name)]
    # The test of damaged bytes has its plain program built, as the others have markhold itself.
    made = cargo(["test", "--release", "--no-run", "--workspace", "--test", "some_seconds", *words])
    wanted = {"markhold", "markhold-fuzz", *CARRIED}
    for name, path in made:
        if name in wanted:
            subprocess.run(["strip", "-o", str(folder / name), path], check=True)
    line = ROOT / "crates/markhold/tests/ends/line.c"
    subprocess.run(["cc", "-shared", "-fPIC", "-o", str(folder / "line.so"), str(line)], check=True)
    shutil.copy(pathlib.Path(__file__), folder)
    # The sound library need not be there.
    needs = subprocess.run(["ldd", str(folder / "markhold")], stdout=subprocess.PIPE, text=True, check=True).stdout
    for path in re.findall(r"=> (\S*libasound\S*)", needs):
        shutil.copy(path, folder)
    with tarfile.open(folder / PACKED, "w:gz") as packed:
        for path in sorted(folder.iterdir()):
            if path.suffix not in (".py", ".gz"):
                packed.add(path, path.name)
                path.unlink()
    megabytes = sum(path.stat().st_size for path in folder.iterdir() if path.is_file()) / 1e6
    print(f"{folder}: {megabytes:.0f} MB; there: python3 {pathlib.Path(__file__).name} run 9")


def cargo(words):
    """(name, path) of every program that this builds."""
    import json

    command = ["cargo", *words, "--message-format", "json-render-diagnostics"]
    made = subprocess.run(command, stdout=subprocess.PIPE, text=True, cwd=ROOT, check=True)
    told = (json.loads(line) for line in made.stdout.splitlines())
    return [(one["target"]["name"], one["executable"]) for one in told
            if one["reason"] == "compiler-artifact" and one.get("executable")]


class Try:
    """One process: what it is a part of, its command, what it is told, what it said."""

    def __init__(self, kind, name, words, **told):
        self.kind, self.name = kind, name
        self.words, self.told = [str(HERE / words[0]), *map(str, words[1:])], told
        self.code, self.lasted_s, self.said = None, 0.0, ""

    def run(self, logs, until):
        """Runs it, at most until that time."""
        log, begun = logs / f"{self.name}.log", time.monotonic()
        environment = dict(os.environ, MARKHOLD_PROGRAM=str(HERE / "markhold"), MARKHOLD_LINE=str(HERE / "line.so"),
                           LD_LIBRARY_PATH=str(HERE), **{k: str(v) for k, v in self.told.items()})
        with tempfile.TemporaryDirectory() as place, open(log, "w", encoding="utf-8") as out:
            environment["TMPDIR"] = place
            child = subprocess.Popen(self.words, cwd=place, env=environment, stdin=subprocess.DEVNULL,
                                     stdout=out, stderr=subprocess.STDOUT, process_group=0)
            try:
                self.code = child.wait(max(until - time.monotonic(), 0))
            except subprocess.TimeoutExpired:
                # A group and no session: whose leader opens a terminal is hung up on with it.
                os.killpg(child.pid, signal.SIGKILL)
                child.wait()
            found = pathlib.Path(place) / "target/fuzz"
            if found.is_dir():
                shutil.copytree(found, logs / f"{self.name}-found", dirs_exist_ok=True)
        self.lasted_s, self.said = time.monotonic() - begun, log.read_text(encoding="utf-8", errors="replace")


def shared(count, parts):
    """A count in parts as equal as can be, none of them empty."""
    parts = max(1, min(parts, count))
    return [count // parts + (k < count % parts) for k in range(parts)]


def tries(cores, minutes, share):
    """Everything that is to be tried, what takes longest first."""
    part = lambda count: max(1, round(count * share))
    soak_min = max(minutes - 2.5, minutes / 2)
    for k in range(max(1, cores // 4)):
        yield Try("soak", f"soak-{k + 1}", ["soak", "--bench", 24, SPEED, k + 1, soak_min])
    for k, count in enumerate(shared(part(ENDS), max(1, cores * 3 // 8))):
        yield Try("ends", f"ends-{k + 1}", ["ends", "--bench", count, k + 1])
    test = lambda name: ["--exact", name, "--nocapture"]
    for k, count in enumerate(shared(part(SENDS), max(1, cores // 4))):
        words = ["unkeyed", *test("the_transmitter_is_unkeyed_whatever_happens")]
        yield Try("send", f"send-{k + 1}", words, MARKHOLD_SENDS=count, MARKHOLD_SEED=k)
    for k, count in enumerate(shared(part(KILLS), max(1, cores * 7 // 8))):
        words = ["kills", *test("a_kill_costs_neither_sound_nor_copy")]
        yield Try("kills", f"kills-{k + 1}", words, MARKHOLD_KILLS=count, MARKHOLD_SEED=k)
    for name in targets():
        yield Try("fuzz", f"fuzz-{name}", ["markhold-fuzz", max(1, round(12 * minutes * min(share, 1))), name])


def targets():
    """The names of all readers that damaged bytes are put into."""
    with tempfile.TemporaryDirectory() as place:
        subprocess.run([str(HERE / "markhold-fuzz"), "seeds", place], check=True, env=dict(os.environ, LD_LIBRARY_PATH=str(HERE)))
        return sorted(path.name.removeprefix("fuzz_") for path in pathlib.Path(place).iterdir())


def run(minutes, share, logs):
    """Runs everything, as many at a time as there are processors."""
    logs.mkdir(parents=True, exist_ok=True)
    begun = time.monotonic()
    if not (HERE / "markhold").exists():
        with tarfile.open(HERE / PACKED) as packed:
            packed.extractall(HERE, filter="data")
    until = begun + 60 * minutes - SPARE_S
    todo = collections.deque(tries(os.cpu_count() or 1, minutes - SPARE_S / 60, share))
    everything, lock = list(todo), threading.Lock()

    def work():
        while time.monotonic() < until:
            with lock:
                if not todo:
                    return
                one = todo.popleft()
            one.run(logs, until)
            print(f"{time.monotonic() - begun:4.0f} s  {one.name}: {one.lasted_s:.0f} s, exit {one.code}", flush=True)

    workers = [threading.Thread(target=work) for _ in range(os.cpu_count() or 1)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    table(everything)
    print(f"\n{len(everything)} processes on {os.cpu_count()} processors, {time.monotonic() - begun:.0f} s")
    return all(one.code == 0 for one in everything)


FUZZED = re.compile(r"^(\S+) +(\d+) tries, +\d+ ways, (\d+) findings", re.M)


def figures(one):
    """(what, name and value of each figure) that a process told."""
    for line in re.findall(r"^figures (.+)$", one.said, re.M):
        what, *values = line.split()
        yield what, [(name, float(value)) for name, value in (value.split("=") for value in values)]
    if one.kind == "fuzz":
        for name, count, findings in FUZZED.findall(one.said):
            yield f"fuzz:{name}", [("tries", float(count)), ("failures", float(findings))]


def table(everything):
    """Figures of all processes added up; of those whose name begins with most, the greatest."""
    sums = {}
    for one in everything:
        for what, values in figures(one):
            held = sums.setdefault(what, {})
            for name, value in values:
                both = (held.get(name, 0.0), value)
                held[name] = max(both) if name.startswith("most_") else sum(both)
    print("\n| what | tries | failures | figures |\n|---|---|---|---|")
    for what, held in sums.items():
        more = ", ".join(f"{name} {value:g}" for name, value in held.items() if name not in ("tries", "failures"))
        print(f"| {what.replace('_', ' ')} | {held.get('tries', 0):.0f} | {held.get('failures', 0):.0f} | {more} |")
    print()
    for kind in dict.fromkeys(one.kind for one in everything):
        of = [one for one in everything if one.kind == kind]
        late = [one.name for one in of if one.code is None]
        failed = [one for one in of if one.code not in (0, None)]
        print(f"{kind}: {len(of)} processes, {len(of) - len(late) - len(failed)} well, "
              f"{len(failed)} failed, not done in time: {', '.join(late) or 'none'}")
        for one in failed:
            wrong = [line for line in one.said.splitlines() if re.search("WRONG|panicked|Err|wrong|failed|skipped|needs", line)]
            print(f"  {one.name}, exit {one.code}:", *[f"    {line[:600]}" for line in wrong[:6]], sep="\n")
        skipped = [one.name for one in of if "skipped" in one.said or "needs Linux" in one.said or "was not tried" in one.said]
        if skipped:
            print(f"  left something out, see their logs: {', '.join(skipped)}")


def main():
    # A shell that put this into the background must not have the programs ignore an interrupt.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    match sys.argv[1:]:
        case ["build", folder]:
            build(pathlib.Path(folder).resolve())
        case ["run", *more] if len(more) <= 3:
            minutes, share, logs = more + ["9", "1", "logs"][len(more):]
            sys.exit(0 if run(float(minutes), float(share), pathlib.Path(logs)) else 1)
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main()
