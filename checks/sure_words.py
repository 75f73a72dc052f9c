#!/usr/bin/env python3
"""How many words `markhold copy` shows as sure, and how many of those are wrong.

    sure_words.py prose-6 prose-4 --seeds 1-5 --binary target/release/markhold

A word is what stands between breaks in the codes copied, shifts left out; it is sure if
none of its characters is doubtful, and right if all of them are in a least-edit alignment
with the codes sent.
"""

import argparse
import json
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from cases import CASES, names
from make_signals import produce, seeds
from score import ROOT, copy

BREAKS, SHIFTS = {2, 4, 8}, {27, 31}


def right(sent, got):
    """bool [len(got)]: whether each code copied is matched in an alignment of least edits."""
    a, b = np.asarray(sent), np.asarray(got)
    steps = np.arange(len(b) + 1)
    table = [steps]
    for code in a:
        above = table[-1]
        row = np.empty(len(b) + 1, dtype=np.int64)
        row[0] = above[0] + 1
        row[1:] = np.minimum(above[1:] + 1, above[:-1] + (code != b))
        table.append(np.minimum.accumulate(row - steps) + steps)
    ok, i, j = np.zeros(len(b), dtype=bool), len(a), len(b)
    while i and j:
        if table[i][j] == table[i - 1][j - 1] + (a[i - 1] != b[j - 1]):
            ok[j - 1] = a[i - 1] == b[j - 1]
            i, j = i - 1, j - 1
        elif table[i][j] == table[i - 1][j] + 1:
            i -= 1
        else:
            j -= 1
    return ok


def count(characters, ok):
    """Counter of words, sure words and wrong sure words."""
    total, word = Counter(), []
    for c, fine in [*zip(characters, ok), ({"code": 4, "doubt": None}, True)]:
        if c["code"] in BREAKS:
            if word:
                sure = all(w["doubt"] is None for w, _ in word)
                total["words"] += 1
                total["sure"] += sure
                total["wrong"] += sure and not all(f for _, f in word)
            word = []
        elif c["code"] not in SHIFTS:
            word.append((c, fine))
    return total


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("case", nargs="+")
    parser.add_argument("--seeds", default="1-5")
    parser.add_argument("--binary", default=str(ROOT / "target/release/markhold"))
    parser.add_argument("--language", default="on")
    parser.add_argument("--keep")
    args = parser.parse_args()
    for name in names(args.case):
        total = Counter()
        with tempfile.TemporaryDirectory() as scratch:
            for seed in seeds(args.seeds):
                path = produce(CASES[name], seed, args.keep or scratch)
                output, _ = copy(args.binary, path, ["--language", args.language], True)
                characters = [e for e in map(json.loads, output.splitlines()) if e["type"] == "character"]
                sent = json.loads(Path(path).with_suffix(".json").read_text())["codes"]
                total += count(characters, right(sent, [c["code"] for c in characters]))
        def share(a, b):
            return 100 * total[a] / max(total[b], 1)
        print(f"{name:<18}{total['words']:>6} words, sure {share('sure', 'words'):.1f} %, of these wrong {share('wrong', 'sure'):.2f} % ({total['wrong']})")


if __name__ == "__main__":
    main()
