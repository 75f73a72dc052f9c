"""Whether two programs say the same of ten recordings: for changes that must not change copy.

    python3 checks/same_copy.py /tmp/markhold-before target/release/markhold

The recordings are made by the second program's `air`, so that both hear the same sound.
Fields that only one of the two writes are left out; of first readings it says how many
differ, but only decided characters and signals decide. Ends with 1 where they differ.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

TEXT = (
    "CQ CQ CQ DE QLMT QLMT QLMT. THE NET MEETS AT NINE AT THE ROPEWALK, BRING 73 METRES OF "
    "WIRE AND 2 INSULATORS. REPORT 599 599. THE TIDE TURNS AT 1745. ASK AT THE RED DOOR."
)

# Each takes some 25 s of sound: steady, weak, fading, crashes, drift, other rates and senses.
RECORDINGS = {
    "steady": ["--es-n0", "18"],
    "weak": ["--es-n0", "9"],
    "weakest": ["--es-n0", "6"],
    "fading": ["--es-n0", "17", "--paths", "mid-latitude-moderate"],
    "crashes": ["--es-n0", "16", "--crashes", "1,20", "--agc"],
    "drift": ["--es-n0", "14", "--warm-up=-25Hz,90s"],
    "jump": ["--es-n0", "16", "--jump", "12s,60Hz"],
    "fast": ["--es-n0", "14", "--rate", "75", "--stop", "2"],
    "other-sense": ["--es-n0", "14", "--mark", "higher", "--shift", "425", "--rate", "50"],
    "biased": ["--es-n0", "16", "--bias", "25", "--jitter", "1"],
}


def make(binary, name, options, seed, folder):
    out = folder / f"{name}.wav"
    command = [binary, "air", *options, "--seed", str(seed), "--lead", "4"]
    command += ["--passband", "300,2700", "--sample-rate", "8000", "--out", str(out), TEXT]
    subprocess.run(command, check=True, capture_output=True)
    return out


def lines(binary, sound):
    command = [binary, "copy", "--json", "--early", str(sound)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


def common(a, b):
    """What both say, of objects and lists of them."""
    if isinstance(a, dict) and isinstance(b, dict):
        keys = a.keys() & b.keys()
        pairs = {key: common(a[key], b[key]) for key in keys}
        return {k: p[0] for k, p in pairs.items()}, {k: p[1] for k, p in pairs.items()}
    return a, b


def differences(before, after, early):
    a, b = ([x for x in them if (x["type"] == "early") == early] for them in (before, after))
    differ = [(x, y) for x, y in map(common, a, b) if x != y]
    return len(a), len(b), differ


def main(before, after):
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        for seed, (name, options) in enumerate(RECORDINGS.items(), start=1):
            sound = make(after, name, options, seed, Path(folder))
            both = lines(before, sound), lines(after, sound)
            n_before, n_after, differ = differences(*both, early=False)
            early = differences(*both, early=True)
            same = n_before == n_after and not differ
            failed |= not same
            verdict = "same" if same else f"DIFFERS: {n_before} and {n_after} lines, {len(differ)} other"
            first = f"first readings {early[0]} and {early[1]}, {len(early[2])} other in order"
            print(f"{name:12} {n_after:4} lines {verdict}; {first}", flush=True)
            for x, y in differ[:2]:
                print(f"    before {x}\n    after  {y}")
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    sys.exit(main(*sys.argv[1:]))
