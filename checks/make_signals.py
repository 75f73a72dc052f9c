#!/usr/bin/env python3
"""Makes test recordings: CASE-SEED.wav, .txt (the sent text) and .json (all else).

    make_signals.py steady-10 --seed 1 --out /tmp/signals
    make_signals.py all --seed 1-5 --out /tmp/signals
    make_signals.py --list
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import json
import wave
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.io import wavfile

import recording
from cases import CASES, GROUPS, names


def seeds(word):
    """[n] seeds of a word like 3 or 1-5 or 1,4,7."""
    out = []
    for part in word.split(","):
        a, _, b = part.partition("-")
        out += range(int(a), int(b or a) + 1)
    return out


def write_wav(path, samples, rate, sample, rng):
    """Writes one channel; the greatest sample lies between 0.1 and 0.8 of full scale, as the
    level control of some receiver happens to stand."""
    scale = 0.8 * 10 ** (-rng.uniform(0, 18) / 20) / np.max(np.abs(samples))
    if sample == "float32":
        wavfile.write(path, rate, (samples * scale).astype(np.float32))
    else:
        wavfile.write(path, rate, np.round(samples * scale * 32767).astype(np.int16))


def write_long(path, chunks, rate, scale):
    """Writes int16 chunks without holding the whole recording."""
    with wave.open(str(path), "wb") as f:
        f.setnchannels(1)
        f.setsampwidth(2)
        f.setframerate(rate)
        for x in chunks:
            f.writeframes(np.clip(np.round(x * scale * 32767), -32768, 32767).astype("<i2").tobytes())


def produce(case, seed, folder, seconds=None, characters=None):
    """Makes one recording in `folder` and gives the path of its sound file."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{case.name}-{seed}.wav"
    if case.kind != "text":
        seconds = seconds or case.seconds
        density = recording.air.noise_density(case.esn0_db, case.baud)
        peak = 6 * np.sqrt(density * case.rate / 2) + (40 if case.kind == "keyed" else 0)
        write_long(path, recording.make_without_text(case, seed, seconds), case.rate, 0.8 / peak)
        path.with_suffix(".txt").write_text("")
        path.with_suffix(".json").write_text(json.dumps({"seed": seed, "seconds": seconds, "codes": []}))
        return path
    if seconds is not None:
        case = replace(case, seconds=seconds)
    if characters is not None:
        case = replace(case, seconds=None, characters=(characters, characters))
    made = recording.make(case, seed)
    write_wav(path, made.samples, made.rate, case.sample, recording.generator(replace(case, name="level"), seed))
    path.with_suffix(".txt").write_text(made.text + "\n")
    path.with_suffix(".json").write_text(json.dumps(made.facts))
    return path


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("case", nargs="*", help="cases or groups")
    parser.add_argument("--seed", default="1", help="3, 1-5 or 1,4,7")
    parser.add_argument("--out", default="signals")
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--chars", type=int)
    parser.add_argument("--list", action="store_true")
    args = parser.parse_args()
    if args.list or not args.case:
        print("\n".join(CASES))
        for group, members in GROUPS.items():
            print(f"{group} = {' '.join(members)}")
        return
    for name in names(args.case):
        for seed in seeds(args.seed):
            print(produce(CASES[name], seed, args.out, args.seconds, args.chars), flush=True)


if __name__ == "__main__":
    main()
