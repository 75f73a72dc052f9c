"""Filters of the signal crate against numpy and scipy, on seeded noise at 8000 Hz.

The example `filters` of markhold-signal gets the noise and prints what it made of it.
Frames of N samples begin every N/4, frame 0 ending with the first N/4 samples of the
sound; a narrow stream gets the middle N/4 of each frame.
"""

import json
import subprocess

import numpy as np
from scipy.integrate import cumulative_trapezoid
from scipy.signal import get_window, oaconvolve
from scipy.special import ive

from examples import example

RATE, SAMPLES, SEED = 8000.0, 12000, 8
SINGLE = 10 * 2.0**-23  # ten stages of a transform of 1024, one rounding each, relative to the largest bin
# A frame's outputs differ from linear convolution by the response's tails beyond 3N/8.
TAILS = 1e-3  # of the stream's rms
# Abramowitz & Stegun 9.8.1 and 9.8.2: 1.6e-7 and 1.9e-7 before the scaling by 1/sqrt(x).
POLYNOMIALS = 2e-7
TABLE, TABLE_END, BEYOND = 3e-4, 128.0, 1e-3  # as bessel.rs documents them


def ask_example(filters, noise):
    """What the example says about a sound."""
    done = subprocess.run([filters], input=noise.astype("<f4").tobytes(), capture_output=True)
    if done.returncode:
        raise RuntimeError(f"example filters, exit {done.returncode}: {done.stderr.decode()[-300:]}")
    return json.loads(done.stdout)


def within(report, name, found, expected, tolerance, unit=1.0):
    """Passes where the greatest difference, in `unit`, is within tolerance."""
    found, expected = np.asarray(found), np.asarray(expected)
    if found.shape != expected.shape or not found.size:
        return report.check(name, False, f"shape {found.shape}, expected {expected.shape} and not empty")
    worst = float(np.max(np.abs(found - expected)) / unit)
    report.check(name, worst <= tolerance, f"{found.size} values, greatest difference {worst:.2g}, allowed {tolerance:.2g}")


def hann(report, said, noise):
    """Three bins subtracted make 2 X of the Hann-windowed frame, so 4 times its power."""
    n, hop = said["frame"], said["hop"]
    window, silence = get_window("hann", n), np.zeros(n - hop)
    sound = np.concatenate([silence, noise])
    spectra = {f: np.fft.rfft(sound[f * hop : f * hop + n] * window) for f, _, _ in said["hann"]}
    expected = [4 * abs(spectra[f][k]) ** 2 for f, k, _ in said["hann"]]
    found = [power for _, _, power in said["hann"]]
    within(report, "Hann power of bins, relative to the largest", found, expected, SINGLE, max(expected))


def convolved(stream, noise, n):
    """The stream by linear convolution in double precision; bins below 0 Hz are empty."""
    response, centre = np.array(stream["response"]), stream["centre"]
    offsets = np.arange(len(response)) - len(response) // 2
    kept = (centre + offsets >= 0) & (centre + offsets <= n // 2)
    grid = np.zeros(n)
    grid[offsets[kept]] = response[kept]  # negative offsets from the end, as the transform has them
    impulse = np.fft.fftshift(np.fft.ifft(grid))
    down = noise * np.exp(-2j * np.pi * centre / n * np.arange(len(noise)))
    filtered = oaconvolve(down, impulse)  # sample 0 of the sound stands at n/2
    frames, step = len(noise) // (n // 4), n // len(response)
    first = -3 * n // 8
    return filtered[n // 2 + first + step * np.arange(frames * len(response) // 4)]


def narrow(report, stream, noise, n):
    """One narrow stream: its instants, outputs and integrals."""
    name = f"stream at bin {stream['centre']}"
    rate = len(stream["response"]) * RATE / n
    report.equal(f"{name}: rate and first instant", [stream["rate_hz"], stream["begin"]], [rate, -3 * n // 8])
    outputs = np.array(stream["outputs"]) @ [1, 1j]
    expected = convolved(stream, noise, n)
    rms = np.sqrt(np.mean(np.abs(expected) ** 2))
    within(report, f"{name}: outputs against linear convolution, of the rms", outputs, expected, TAILS, rms)
    sums = cumulative_trapezoid(outputs, dx=1 / rate, initial=0)
    instants = stream["begin"] / RATE + np.arange(len(outputs)) / rate
    spans = np.array(stream["integrals"])
    areas = np.interp(spans[:, 1], instants, sums) - np.interp(spans[:, 0], instants, sums)
    within(report, f"{name}: integrals, of the rms for 1 s", spans[:, 2:] @ [1, 1j], areas, 1e-12, rms)


def bessel(report, said):
    """I0 scaled, and ln I0 by table and asymptote."""
    x, scaled, ln = np.array(said["bessel"]).T
    within(report, "I0(x) exp(-x)", scaled, ive(0, x), POLYNOMIALS)
    exact, table = np.log(ive(0, x)) + x, x < TABLE_END
    within(report, "ln I0(x) by table", ln[table], exact[table], TABLE)
    within(report, f"ln I0(x) from {TABLE_END:.0f} to {x.max():.0f}", ln[~table], exact[~table], BEYOND)


def checks(report, binary):
    """The example's answers, one after the other."""
    noise = np.random.default_rng(SEED).standard_normal(SAMPLES).astype(np.float32).astype(float)
    said = ask_example(example(binary, "markhold-signal", "filters"), noise)
    hann(report, said, noise)
    for stream in said["streams"]:
        narrow(report, stream, noise, said["frame"])
    bessel(report, said)
