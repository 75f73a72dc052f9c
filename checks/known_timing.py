#!/usr/bin/env python3
"""Copy with everything given: tones and element times from the sidecar, envelopes
compared element by element. No receiver, but a yardstick for score.py:

    score.py steady --binary checks/known_timing.py

A receiver that follows phase, weighs likelihoods or knows language can do better;
one that must find the framing will do worse at low Es/N0. The dial must stand still.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import json
import sys
from pathlib import Path

import numpy as np

import alphabet
import measure
from demodulator import correlate


def main():
    if "--help" in sys.argv:
        print("usage: known_timing.py copy [--json] FILE")
        return
    path = Path(sys.argv[-1])
    facts = json.loads(path.with_suffix(".json").read_text())
    if "start_s" not in facts:
        return
    samples, rate = measure.read_wav(path)
    mark, space = correlate(samples, rate, facts["mark_hz"], facts["space_hz"], facts["start_s"], facts["case"]["baud"])
    bits = (np.abs(mark) > np.abs(space))[:, 1:6]
    codes = (bits << np.arange(5)).sum(axis=1).tolist()
    if "--json" in sys.argv:
        for code in codes:
            print(json.dumps({"type": "character", "code": code}))
    else:
        print(alphabet.decode(codes))


if __name__ == "__main__":
    main()
