"""Recordings made by `markhold air`, measured with matched filters and held against
closed formulas (Proakis; Rice; ITU-R F.1487 convention of spread = 2 sigma).

The same measurements are first made on recordings of this folder's own generator,
to show that they measure what they should.
"""

import subprocess
import tempfile
from pathlib import Path

import numpy as np

import formulas as f
import measure
import recording
import texts
from alphabet import decode
from cases import Case

BAUD, SHIFT, MARK, STOP = 1 / 0.022, 170.0, 2125.0, 1.5
SHORT, LONG = 1200, 5000  # characters: about 3.5 and 14 min


class Own:
    """Recordings of this folder's generator. `what`: esn0_db, paths, crashes_per_s."""

    name = "own generator"

    def make(self, characters, seed, **what):
        """(samples, rate) of a fixed text; the same signal whatever is added to it."""
        case = Case("check-air", centre=MARK + SHIFT / 2, characters=(characters, characters), **what)
        made = recording.make(case, seed)
        return made.samples, made.rate


class Program:
    """Recordings of `markhold air`."""

    name = "markhold air"

    def __init__(self, binary):
        self.binary = binary

    def why_not(self):
        """Why it cannot be asked, or None."""
        done = subprocess.run([self.binary, "air", "--help"], capture_output=True, text=True)
        if done.returncode or "--es-n0" not in done.stdout:
            return "the program has no `air` command that takes --es-n0"
        return None

    def make(self, characters, seed, **what):
        """(samples, rate); raises RuntimeError with what the program said."""
        with tempfile.TemporaryDirectory() as scratch:
            text, sound = Path(scratch) / "text.txt", Path(scratch) / "out.wav"
            text.write_text(sent_text(characters) + "\n")
            words = ["--file", text, "--out", sound, "--seed", seed, "--float", "--sample-rate", 8000, "--level", -40]
            words += ["--rate", BAUD, "--stop", STOP, "--shift", SHIFT, "--centre", MARK + SHIFT / 2, "--mark", "lower"]
            if what.get("esn0_db") is not None:
                words += ["--es-n0", what["esn0_db"]]
            if what.get("paths"):
                words += ["--paths", "{:g}ms,{:g}Hz".format(*what["paths"])]
            if what.get("crashes_per_s"):
                words += ["--crashes", f"{what['crashes_per_s']:g},25"]
            done = subprocess.run([self.binary, "air", *map(str, words)], capture_output=True, text=True)
            if done.returncode:
                raise RuntimeError(f"exit {done.returncode}: {done.stderr.strip()[-300:]}")
            return measure.read_wav(sound)


def sent_text(characters):
    """The text that is sent for a number of characters."""
    return texts.text(np.random.default_rng(characters), characters)


def clean_layout(source, characters, seed):
    """(layout, stop units, signal power) of the recording without noise."""
    x, rate = source.make(characters, seed)
    at, stop = measure.layout(x, rate, MARK, MARK + SHIFT, BAUD, STOP)
    right, _ = measure.right_and_wrong(x, rate, at)
    return at, stop, float(np.mean(np.abs(right) ** 2)) / 2


def holds_text(report, source, at):
    """The clean recording holds the text asked for."""
    printed = "".join(decode(at.codes).split())
    sent = "".join(sent_text(SHORT).split())
    report.check(f"{source.name}: the clean recording holds the text", sent in printed, "" if sent in printed else printed[:60])


def steady(report, source):
    """Element error rate and Es/N0 in white noise."""
    at, stop, _ = clean_layout(source, SHORT, 1)
    report.near(f"{source.name}: stop units", stop, STOP, 0.002)
    if isinstance(source, Program):
        holds_text(report, source, at)
    r = abs(f.tone_correlation(SHIFT, BAUD))
    for db in (4, 6, 8):
        x, rate = source.make(SHORT, 1, esn0_db=db)
        errors, n = measure.error_rate(x, rate, at)
        low, high = f.binomial_interval(errors, n)
        expected = f.noncoherent(f.ratio(db), r)
        report.check(f"{source.name}: element errors at {db} dB", low <= expected <= high, f"{errors}/{n} = {errors / n:.5f}, formula {expected:.5f}")
        report.near(f"{source.name}: Es/N0 measured, dB", measure.es_n0_db(x, rate, at), db, 4 * 4.343 * np.sqrt((1 + 2 / f.ratio(db)) / n) + 0.02)


def fading(report, source):
    """Autocorrelation, depth and tone correlation of the fading, 1 ms and 1 Hz."""
    delay, spread = 1.0, 1.0
    at, _, signal = clean_layout(source, LONG, 2)
    x, rate = source.make(LONG, 2, paths=(delay, spread))
    space, mark = measure.tone_powers(x, rate, at)
    period = (6 + STOP) / BAUD
    independent = len(space) * period * spread * np.sqrt(2 * np.pi)
    for lag in (1, 2, 3):
        expected = f.tap_autocorrelation(lag * period, spread) ** 2
        report.near(f"{source.name}: power autocorrelation at {1000 * lag * period:.0f} ms, spread 1 Hz", measure.power_autocorrelation(space, lag), expected, 5 / np.sqrt(independent))
    report.near(f"{source.name}: share of time 10 dB below the mean", np.mean(space < 0.1 * np.mean(space)), f.below(10**-0.5), 5 * np.sqrt(0.09 / independent))
    gap = f.tap_autocorrelation(6 / BAUD, spread) ** 2
    expected = gap * f.tone_fading_correlation(SHIFT, delay * 1e-3) ** 2
    report.near(f"{source.name}: correlation of the two tones' powers, 1 ms", measure.correlation(space, mark), expected, 5 / np.sqrt(independent))


def crashes(report, source):
    """Level and number of the static crashes."""
    at, _, signal = clean_layout(source, SHORT, 3)
    x, rate = source.make(SHORT, 3, crashes_per_s=2.0)
    # The recorder may set its level by the loudest sample: the signal's own is measured again,
    # the median being out of reach of the crashes.
    right, _ = measure.right_and_wrong(x, rate, at)
    level, count = measure.crash_level(x, rate, float(np.median(np.abs(right)) ** 2) / 2)
    seconds = len(x) / rate
    report.near(f"{source.name}: crash level, dB over the signal in 4 kHz", level, 25.0, 0.7)
    report.near(f"{source.name}: crashes a second", count / seconds, 2.0, 4 * np.sqrt(2 / seconds) + 0.15)


def checks(report, binary):
    """On the own generator, then on the program."""
    program = Program(binary)
    for source in (Own(), program):
        why = program.why_not() if source is program else None
        for part in (steady, fading, crashes):
            if why:
                report.check(f"markhold air: {part.__name__}", False, why)
                continue
            try:
                part(report, source)
            except (RuntimeError, ValueError) as error:
                report.check(f"{source.name}: {part.__name__}", False, str(error))
