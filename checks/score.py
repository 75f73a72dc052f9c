#!/usr/bin/env python3
"""Character error rate of `markhold copy` on the named cases.

    score.py steady --seeds 1-5
    score.py paths1-16 --seeds 1-20 --codes --binary target/release/markhold
    score.py sideband-10 --files --copy-args "--rate 45.45"

Recordings are made on the way by the generator beside this file, two at a time.
CER = (wrong + missing + extra characters) / characters sent, by edit distance.
With --codes the five-unit codes that `copy --json` reports are held against the
codes sent, shifts included; that is what the targets are meant for. Otherwise the
printed text against the text sent, where one lost shift spoils several characters.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import json
import re
import shlex
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from cases import CASES, names
from make_signals import produce, seeds

ROOT = Path(__file__).resolve().parent.parent


def normalise(text):
    """Upper case; any run of CR and LF is one new line, none at either end."""
    return re.sub(r"[\r\n]+", "\n", text.upper()).strip("\n").rstrip()


def edits(sent, got):
    """(wrong, missing, extra) of a least-edit alignment of two sequences."""
    a, b = np.asarray(list(sent)), np.asarray(list(got))
    if not len(a) or not len(b):
        return 0, len(a), len(b)
    steps = np.arange(len(b) + 1)
    table = np.empty((len(a) + 1, len(b) + 1), dtype=np.int32)
    table[0] = steps
    for i in range(1, len(a) + 1):
        row = np.empty(len(b) + 1, dtype=np.int32)
        row[0] = i
        row[1:] = np.minimum(table[i - 1, 1:] + 1, table[i - 1, :-1] + (a[i - 1] != b))
        table[i] = np.minimum.accumulate(row - steps) + steps
    return _trace(table, a, b)


def _trace(table, a, b):
    """Walks the table of edit distances back from its end."""
    i, j = len(a), len(b)
    wrong = missing = extra = 0
    while i or j:
        here = table[i, j]
        if i and j and here == table[i - 1, j - 1] + (a[i - 1] != b[j - 1]):
            wrong += int(a[i - 1] != b[j - 1])
            i, j = i - 1, j - 1
        elif i and here == table[i - 1, j] + 1:
            missing, i = missing + 1, i - 1
        else:
            extra, j = extra + 1, j - 1
    return wrong, missing, extra


def copy(binary, path, args, as_json):
    """(output, note) of one run of `markhold copy`."""
    start = [sys.executable] if str(binary).endswith(".py") else []
    command = [*start, str(binary), "copy", *args, *(["--json"] if as_json else []), str(path)]
    try:
        done = subprocess.run(command, capture_output=True, timeout=600)
    except subprocess.TimeoutExpired:
        return "", "no answer within 600 s"
    note = "" if done.returncode in (0, 1) else f"exit {done.returncode}: {done.stderr.decode(errors='replace')[-300:]}"
    return done.stdout.decode(errors="replace"), note


def codes_of(output):
    """Five-unit codes of JSON lines of type character, in the order given."""
    out = []
    for line in output.splitlines():
        event = json.loads(line)
        if event.get("type") == "character":
            out.append(event["code"])
    return out


def score_one(job):
    """Makes, copies and scores one recording: a dictionary of counts."""
    case, seed, options = job
    with tempfile.TemporaryDirectory() as scratch:
        folder = options["keep"] or scratch
        path = produce(case, seed, folder, options["seconds"], options["chars"])
        begin = time.monotonic()
        output, note = copy(options["binary"], path, options["args"], options["codes"])
        took = time.monotonic() - begin
        if options["codes"]:
            sent, got = json.loads(path.with_suffix(".json").read_text())["codes"], codes_of(output)
        else:
            sent, got = normalise(path.with_suffix(".txt").read_text()), normalise(output)
        wrong, missing, extra = edits(sent, got)
        seconds = (path.stat().st_size - 44) / (2 if case.sample == "int16" else 4) / case.rate
    return {
        "case": case.name, "seed": seed, "characters": len(sent), "wrong": wrong, "missing": missing, "extra": extra,
        "seconds": seconds, "took": took, "note": note, "sent": sent, "got": got,
    }  # fmt: skip


def score(cases, seed_list, binary, args=(), codes=False, keep=None, seconds=None, chars=None, workers=2):
    """Results of all cases (Case values) and seeds, in order."""
    options = dict(binary=binary, args=list(args), codes=codes, keep=keep, seconds=seconds, chars=chars)
    jobs = [(case, seed, options) for case in cases for seed in seed_list]
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(score_one, jobs)


def rate(results):
    """Character error rate of a list of results, None where nothing was sent."""
    sent = sum(r["characters"] for r in results)
    return sum(r["wrong"] + r["missing"] + r["extra"] for r in results) / sent if sent else None


def line(case, results):
    """One line of the table, and whether the target (if any) is met."""
    total = {k: sum(r[k] for r in results) for k in ("characters", "wrong", "missing", "extra", "seconds", "took")}
    cer, target = rate(results), case.target
    speed = total["seconds"] / max(total["took"], 1e-9)
    if cer is None:
        hour = total["extra"] * 3600 / total["seconds"]
        text = f"{case.name:<22}{len(results):>5}{0:>9}{'-':>7}{'-':>8}{total['extra']:>7}  {hour:.1f} characters an hour"
        return f"{text:<90}{speed:>7.0f}x", True
    ok = target is None or cer <= target
    text = f"{case.name:<22}{len(results):>5}{total['characters']:>9}{total['wrong']:>7}{total['missing']:>8}{total['extra']:>7}{cer:>9.4f}"
    text += f"{target:>9.4f}  {'met' if ok else 'MISSED'}" if target is not None else f"{'-':>9}"
    return f"{text:<90}{speed:>7.0f}x", ok


def parse():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("case", nargs="+", help="cases or groups, see make_signals.py --list")
    parser.add_argument("--seeds", default="1-5")
    parser.add_argument("--binary", default=str(ROOT / "target/release/markhold"))
    parser.add_argument("--codes", action="store_true", help="score five-unit codes instead of text")
    parser.add_argument("--files", action="store_true", help="a line for each file")
    parser.add_argument("--show", action="store_true", help="print text sent and copied")
    parser.add_argument("--copy-args", default="", help="further arguments for copy")
    parser.add_argument("--keep", help="keep the recordings in this folder")
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--chars", type=int)
    parser.add_argument("--workers", type=int, default=2)
    return parser.parse_args()


def main():
    a = parse()
    if not Path(a.binary).exists():
        sys.exit(f"no program at {a.binary}: build it with `cargo build --release -p markhold` or give --binary")
    print("by five-unit codes" if a.codes else "by printed text (targets are meant for --codes)")
    print(f"{'case':<22}{'files':>5}{'sent':>9}{'wrong':>7}{'missing':>8}{'extra':>7}{'CER':>9}{'target':>9}{'':>14}{'speed':>8}")
    all_met, chosen, seed_list = True, [CASES[n] for n in names(a.case)], seeds(a.seeds)
    results = score(chosen, seed_list, a.binary, shlex.split(a.copy_args), a.codes, a.keep, a.seconds, a.chars, a.workers)
    for case in chosen:
        done = []
        for _ in seed_list:
            r = next(results)
            done.append(r)
            if r["note"]:
                print(f"  {case.name}-{r['seed']}: {r['note'].strip()}")
            if a.files:
                errors = r["wrong"] + r["missing"] + r["extra"]
                print(f"  seed {r['seed']}: {errors} of {r['characters']} ({r['wrong']} wrong, {r['missing']} missing, {r['extra']} extra)")
            if a.show:
                print("  sent:\n", r["sent"], "\n  copied:\n", r["got"], sep="")
        text, met = line(case, done)
        all_met &= met
        print(text, flush=True)
    sys.exit(0 if all_met else 1)


if __name__ == "__main__":
    main()
