"""What `markhold send` gives a transmitter: its spectrum, its elements, and whether it is copied.

The sound is taken apart with numpy and scipy. Limits:

* occupied bandwidth (99 %, 0.5 % beyond each side; ITU-R SM.443, from memory) of 45.45 baud and
  170 Hz at most 235 Hz: a raised-cosine step over 0.4 element was computed apart to give 228;
* in every slot of 250 Hz at most -70 dB of the whole at 500 Hz from the middle and beyond, -110 dB
  at 1000 Hz (the same computation gives -75 and -121);
* a correlator that waits one element loses at most 0.1 dB (computed apart: 0.05);
* every transition within 0.05 ms of its place.

Then every usual rate and shift in both senses, with and without pauses and with every kind of
idle fill, is read by this folder's demodulator from the bare sound, and by `markhold copy` with a
receiver's noise before, over and after it: no error is allowed.
"""

import os
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from scipy.io import wavfile
from scipy.signal import get_window

import check_tones
from alphabet import decode
from cases import RATES
from demodulator import correlate, uart
from measure import read_wav

UNIT = 0.022
SLOT, STEP_UNITS = 250.0, 0.4
ES_N0_DB = 30.0
# A missed target: slow typing at 100 baud with letters shifts meanwhile and mark as the higher tone, which
# `markhold copy` finds anew on the way (docs/sending.md). Whatever else is misread fails.
MISSED = {(100, ("--idle", "letters"), True)}
CALL = "Q1ABC"
WIDE = [(45.45, 170), (45.45, 85), *RATES]
# How the text comes: at once, or typed, with what is sent meanwhile.
PACES = [(), ("--typed", "30"), ("--typed", "30", "--idle", "letters"), ("--typed", "30", "--idle", "blank")]
TEXT = """CQ CQ DE Q1ABC Q1ABC
GOOD EVENING FROM LOW FERRY. THE FIRST PRINTER STOOD IN A SHED
UR 599 599 NR 0123456789 73 73 (ALL) 4/5, 5-1: BACK TO YOU
QUICK BROWN FOX JUMPS OVER THE LAZY DOG 88 K DE Q1ABC
"""


def sound_of(binary, text, options):
    """(samples, rate) of the file that is made of it."""
    with tempfile.TemporaryDirectory() as folder:
        given, made = os.path.join(folder, "given.txt"), os.path.join(folder, "made.wav")
        with open(given, "w") as out:
            out.write(text)
        done = subprocess.run([binary, "send", given, "--settings", os.devnull, "--call", CALL, "--longest", "3600", "--dry", "--out", made, *options], capture_output=True, text=True)
        if done.returncode:
            raise RuntimeError(f"markhold send, exit {done.returncode}: {done.stderr[-300:]}")
        return read_wav(made)


def copied(binary, samples, rate):
    """What `markhold copy` reads in it."""
    with tempfile.TemporaryDirectory() as folder:
        heard = os.path.join(folder, "heard.wav")
        wavfile.write(heard, rate, samples.astype("<f4"))
        return subprocess.run([binary, "copy", heard, "--language", "off"], capture_output=True, text=True).stdout


def received(samples, rate, baud, seed):
    """As a receiver hears it: its noise before, over and after the signal, Es/N0 30 dB."""
    n0 = 0.5**2 / 2 / baud / 10 ** (ES_N0_DB / 10)
    quiet = np.zeros(3 * rate)
    heard = np.concatenate([quiet, samples, quiet])
    return heard + np.sqrt(n0 * rate / 2) * np.random.default_rng(seed).standard_normal(len(heard))


def density(samples, rate):
    """Power density by frames whose window leaks less than 140 dB (4 s Kaiser of beta 20)."""
    n = int(4 * rate)
    window = get_window(("kaiser", 20.0), n)
    frames = [samples[k : k + n] for k in range(0, len(samples) - n + 1, n // 2)]
    return np.fft.rfftfreq(n, 1 / rate), np.mean([np.abs(np.fft.rfft(f * window)) ** 2 for f in frames], 0)


def occupied(hz, power):
    """Hz between 0.5 % and 99.5 % of the power."""
    share = np.cumsum(power) / np.sum(power)
    return float(np.interp(0.995, share, hz) - np.interp(0.005, share, hz))


def worst_slot(hz, power, middle, least):
    """dB of the whole in the strongest slot whose middle is `least` Hz away or more."""
    total, step = np.sum(power), hz[1]
    width = round(SLOT / step)
    slots = np.convolve(power, np.ones(width), mode="same")
    far = (np.abs(hz - middle) >= least) & (hz > SLOT / 2) & (hz < hz[-1] - SLOT / 2)
    return 10 * np.log10(np.max(slots[far]) / total)


def spectrum(report, samples, rate):
    """Of the middle of a long sound; a line switched at once shows that the limits can tell."""
    middle = 2210.0
    hz, power = density(samples, rate)
    width = occupied(hz, power)
    report.check("send: 99 % bandwidth of 45.45 baud, 170 Hz", width <= 235, f"{width:.1f} Hz, allowed 235")
    for least, limit in ((500, -70), (1000, -110)):
        db = worst_slot(hz, power, middle, least)
        report.check(f"send: strongest 250 Hz from {least} Hz off the middle on", db <= limit, f"{db:.1f} dB, allowed {limit}")
    codes = np.random.default_rng(1).integers(0, 32, 300).tolist()
    hard = check_tones.hard_keyed(codes, (1 / UNIT, 1.5, 2125, 2295, rate))
    hz, power = density(hard, rate)
    found = (occupied(hz, power), worst_slot(hz, power, middle, 500))
    report.check("send: the limits tell a line switched at once", found[0] > 235 and found[1] > -70, f"{found[0]:.0f} Hz, {found[1]:.1f} dB")


def elements(report, samples, rate):
    """Phase, transitions and correlators."""
    hz, fine = check_tones.frequency(samples, rate)
    inner = hz[int(0.1 * rate) * fine : -int(0.1 * rate) * fine]
    # A jump of phase by 0.01 turn within one fine sample would be a spike of 480 Hz.
    beyond = max(2125 - inner.min(), inner.max() - 2295)
    report.check("send: phase continuous", beyond < 1.0, f"frequency leaves the tones by {beyond:.2f} Hz at most")
    steepest = np.max(np.abs(np.diff(inner))) * rate * fine
    documented = 2 * 170 / (STEP_UNITS * UNIT)
    report.near("send: steepest step of frequency, Hz/s", steepest, documented, 0.05 * documented)
    times = check_tones.crossings(inner, rate * fine, 2125, 2295)
    heard = uart(samples, rate, 2125, 2295, 1 / UNIT)
    edges = check_tones.ideal_edges([c for _, c in heard], 1 / UNIT, 1.5)[:, 0] * UNIT
    report.equal("send: transitions", len(times), len(edges))
    if len(times) != len(edges):
        return
    off = times - edges
    off -= (off.max() + off.min()) / 2
    report.check("send: every transition at its place", np.max(np.abs(off)) <= 5e-5, f"within {np.max(np.abs(off)) * 1e3:.4f} ms, allowed 0.05")
    begin = 0.1 + np.mean(times - edges)
    starts = begin + 7.5 * UNIT * np.arange(len(heard))
    mark, space = correlate(samples, rate, 2125, 2295, starts, 1 / UNIT)
    bits = np.array([[False] + [bool(c >> k & 1) for k in range(5)] + [True] for _, c in heard])
    got = np.abs(np.where(bits, mark, space)) ** 2 / 0.5**2
    loss = -10 * np.log10(np.mean(got))
    worst = -10 * np.log10(np.min(got))
    report.check("send: loss at a correlator", loss <= 0.1, f"{loss:.3f} dB in the mean, allowed 0.1; worst element {worst:.2f}")


def plain(text):
    """Lines without what does not print at their ends."""
    return [line.rstrip() for line in text.replace("\r", "").splitlines() if line.strip()]


def swept(binary, case):
    """What was read by whom, where it is not what was sent."""
    baud, shift, side, turned, pace = case
    options = ["--rate", str(baud), "--shift", str(shift), "--sideband", side, "--lower", "1275", *pace]
    samples, rate = sound_of(binary, TEXT, options + (["--reversed"] if turned else []))
    tones = (1275, 1275 + shift) if (side == "lower") != turned else (1275 + shift, 1275)
    heard = uart(samples, rate, *tones, 1 / UNIT if baud == 45.45 else baud)
    air = received(samples, rate, baud, round(baud * shift))
    read = {
        "the demodulator": decode([c for _, c in heard]),
        "markhold copy": copied(binary, air, rate),
    }
    wanted, wrong = plain(TEXT), {}
    for who, text in read.items():
        lines = plain(text)
        if lines != wanted:
            first = next((pair for pair in zip(lines + [""], wanted + [""]) if pair[0] != pair[1]), ("", ""))
            wrong[who] = f"{case}: read {first[0]!r}, sent {first[1]!r}"
    return wrong


def sweep(report, binary):
    """Every rate and shift, both sidebands and both senses by turns, every pace and fill."""
    cases = [(baud, shift, side, turned, pace) for baud, shift in WIDE for side, turned in (("lower", False), ("upper", False), ("lower", True)) for pace in PACES]
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda case: swept(binary, case), cases))
    wrong = [one["the demodulator"] for one in found if "the demodulator" in one]
    report.check("send: read without an error by the demodulator", not wrong, f"{len(cases)} cases of {len(TEXT)} characters; {len(wrong)} not" + listed(wrong))
    wrong = {case: one["markhold copy"] for case, one in zip(cases, found) if "markhold copy" in one}
    new = [why for case, why in wrong.items() if not is_missed(case)]
    report.check("send: read without an error by markhold copy, but for what is known", not new, f"{len(cases) - len(wrong)} of {len(cases)} cases; {len(wrong) - len(new)} known to be missed" + listed(new))


def is_missed(case):
    """Whether this is known to be misread."""
    baud, shift, side, turned, pace = case
    return shift == 170 and pace[:1] == ("--typed",) and (baud, pace[2:], (side == "upper") != turned) in MISSED


def listed(wrong):
    """The first of them, a line each."""
    return "".join(f"\n      {w}" for w in wrong[:6])


def checks(report, binary):
    """All of it."""
    letters = np.random.default_rng(7).choice(list("ABCDEFGHIJKLMNOPQRSTUVWXYZ"), 1200)
    text = "\n".join("".join(letters[k : k + 60]) for k in range(0, 1200, 60))
    samples, rate = sound_of(binary, text, [])
    inner = samples[int(0.1 * rate) : -int(0.1 * rate)]
    spectrum(report, inner, rate)
    elements(report, samples, rate)
    sweep(report, binary)
