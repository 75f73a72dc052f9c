#!/usr/bin/env python3
"""A second textbook receiver, by scipy and the library `baudot`, beside the one of the bench of kinds.

    cargo bench -p markhold-receive --bench kinds -- "" --draws 2 --floor --keep /tmp/kinds
    textbook_receiver.py /tmp/kinds

The bench's own textbook receiver is the floor for everything, so it must not be a weak one, and its
recordings must be what they are said to be. This one is written from the description alone: tones
by low-pass filters on both sides of the mixed sound, a slicer half way between slow quantiles of
each envelope, a start-stop receiver at the middles of elements. It needs no squelch: what it prints
outside the sending is not counted against either. Fails if the bench's receiver has more than twice
its errors in the sum of all recordings.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import re
import sys
from pathlib import Path

import numpy as np
from baudot.codecs import ITA2_STANDARD, ITA2_US
from baudot.codecs.core import Shift
from scipy import ndimage, signal
from scipy.io import wavfile

from score import edits

LOOKS = 20  # a unit
QUANTILE_UNITS = 60  # over which highs and lows of an envelope are told


def facts(path):
    """What the bench says of a recording: tones, rate, row and habit."""
    text = path.read_text()
    number = lambda name: float(re.search(rf"^        {name}: ([-0-9.e]+),$", text, re.M)[1])
    return {
        "mark": number("mark_hz"),
        "space": number("space_hz"),
        "baud": number("baud"),
        "unshift": re.search(r"^        unshift: (\w+),$", text, re.M)[1] == "true",
        "codec": ITA2_US if "row: American" in text else ITA2_STANDARD,
        "margins": [float(x) for x in re.search(r"margins_s: \[\s*([0-9.e]+),\s*([0-9.e]+),", text).groups()],
    }


def envelope(samples, rate, hz, baud):
    """Envelope of one tone, LOOKS points a unit."""
    mixed = samples * np.exp(-2j * np.pi * hz / rate * np.arange(len(samples)))
    low = signal.butter(3, 0.55 * baud, fs=rate, output="sos")
    smooth = signal.sosfiltfilt(low, mixed)
    at = np.arange(0, len(samples) - 1, rate / baud / LOOKS).astype(int)
    return np.abs(smooth[at])


def is_mark(mark, space):
    """bool at each look: each envelope is put between its own low and high of late; a tone without
    a stroke of its own has no say."""
    size = QUANTILE_UNITS * LOOKS
    high = [ndimage.percentile_filter(e[::5], 85, size // 5) for e in (mark, space)]
    low = [ndimage.percentile_filter(e[::5], 15, size // 5) for e in (mark, space)]
    spread = lambda x: np.repeat(x, 5)[: len(mark)]
    up_m, up_s = (np.maximum(spread(h) - spread(l), 1e-12) for h, l in zip(high, low))
    middle_m, middle_s = ((spread(h) + spread(l)) / 2 for h, l in zip(high, low))
    return (mark - middle_m) * up_m > (space - middle_s) * up_s


def codes(line):
    """Start at a fall to space, then the middles of seven units."""
    found, k = [], 1
    falls = np.flatnonzero(line[:-1] & ~line[1:]) + 1
    for fall in falls:
        middles = fall + LOOKS * np.arange(7) + LOOKS // 2
        if fall < k or middles[-1] >= len(line) or line[middles[0]] or not line[middles[6]]:
            continue
        found.append((int(fall), int(np.sum(line[middles[1:6]] << np.arange(5)))))
        k = middles[6]
    return found


def text(found, codec, unshift):
    """What a printer shows."""
    letters, figures = (next(s for s in codec.shifts if s.name == n) for n in ("Letters", "Figures"))
    out, shift = [], letters
    for code in found:
        value = codec.decode(code, shift)
        if isinstance(value, Shift):
            shift = letters if value.name == "Letters" else figures
        else:
            out.append(value)
            shift = letters if unshift and value == " " else shift
    return "".join(out)


def page(raw):
    """As the bench's reader sees it."""
    printed = re.sub(r"[^A-Z0-9 \r\n.,:()?/+=\-'$!\"#&;]", "", raw)
    return re.sub(r" *[\r\n][ \r\n]*", "\n", printed).strip("\n ")


def read(path):
    """(wrong share by the bench's, by this one, glyphs sent) of a recording."""
    rate, samples = wavfile.read(path)
    told = facts(path.with_suffix(".evening"))
    mark, space = (envelope(samples, rate, told[t], told["baud"]) for t in ("mark", "space"))
    begin, end = told["margins"][0], len(samples) / rate - told["margins"][1]
    look_s = 1 / told["baud"] / LOOKS
    found = [code for at, code in codes(is_mark(mark, space)) if begin < at * look_s < end]
    sent = page(path.with_suffix(".txt").read_text())
    floor = page(path.with_suffix(".floor.txt").read_text())
    own = page(text(found, told["codec"], told["unshift"]))
    return sum(edits(sent, floor)), sum(edits(sent, own)), len(sent)


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    total = np.zeros(3)
    for path in sorted(Path(sys.argv[1]).glob("*.wav")):
        by_bench, by_this, sent = read(path)
        total += by_bench, by_this, sent
        print(f"{path.stem:45} {sent:5} glyphs, bench {100 * by_bench / sent:5.1f} %, this {100 * by_this / sent:5.1f} %", flush=True)
    if not total[2]:
        sys.exit(f"no recordings in {sys.argv[1]}; see --keep of the bench")
    by_bench, by_this, sent = total
    verdict = by_bench <= 2 * by_this
    print(f"all: bench {100 * by_bench / sent:.2f} %, this {100 * by_this / sent:.2f} %: {'fair' if verdict else 'THE FLOOR IS WEAK'}")
    sys.exit(0 if verdict else 1)


if __name__ == "__main__":
    main()
