"""Sounds that are no teleprinter: what a receiver must stay silent on."""

import numpy as np
from scipy.signal import lfilter

import air


class Nothing:
    """Adds nothing to the noise."""

    def wave(self, t, rate, rng):
        """[n] samples at instants `t`."""
        return np.zeros(len(t))


class Band:
    """Six hand-keyed carriers that come and go, two of them about one usual shift
    apart, and speech-like sound for part of each minute."""

    def __init__(self, rng, seconds):
        spread = np.sort(rng.uniform(350, 2700, 5))
        self.hz = np.append(spread, spread[2] + rng.uniform(160, 180))
        self.amplitude = 10 ** (rng.uniform(-6, 15, len(self.hz)) / 20)
        self.phase = rng.uniform(0, 2 * np.pi, len(self.hz))
        self.keys = [self._overs(rng, seconds) for _ in self.hz]

    @staticmethod
    def _overs(rng, seconds):
        """Morse in overs of 10 to 60 s with silences of 5 to 90 s between."""
        down, up = air.morse_keying(rng, seconds, float(rng.uniform(12, 30)))
        keep, now = np.zeros(len(down), dtype=bool), float(rng.uniform(0, 30))
        while now < seconds:
            over = float(rng.uniform(10, 60))
            keep |= (down > now) & (up < now + over)
            now += over + float(rng.uniform(5, 90))
        return down[keep], up[keep]

    def wave(self, t, rate, rng):
        """[n] samples at instants `t` (one minute or less)."""
        out = np.zeros(len(t))
        for hz, a, phase, (down, up) in zip(self.hz, self.amplitude, self.phase, self.keys):
            if len(down):
                out += a * air.keyed_carrier(t, hz, phase, down, up)
        length = min(len(t), int(rng.uniform(5, 25) * rate))
        begin = int(rng.integers(0, len(t) - length + 1))
        out[begin : begin + length] += 4.0 * speech_like(rng, length, rate)
        return out


def speech_like(rng, n, rate):
    """[n] about unit rms: a glottal pulse train of wandering pitch (90 to 180 Hz)
    or breath noise through three formant resonators, in syllables of 0.1 to 0.35 s."""
    out = np.zeros(n)
    at = 0
    while at < n:
        m = min(n - at, int(rng.uniform(0.10, 0.35) * rate))
        pitch = rng.uniform(90, 180) * (1 + 0.1 * np.sin(np.linspace(0, np.pi, m)))
        turns = np.cumsum(pitch) / rate
        source = np.diff(np.floor(turns), prepend=0.0) * 8
        if rng.random() < 0.25:
            source = rng.normal(0, 1, m)
        for formant, width in ((rng.uniform(300, 800), 80), (rng.uniform(900, 2000), 120), (2500, 200)):
            r = np.exp(-np.pi * width / rate)
            source = lfilter([1 - r], [1, -2 * r * np.cos(2 * np.pi * formant / rate), r * r], source)
        source *= np.hanning(m) if m > 2 else 1
        rms = np.sqrt(np.mean(source**2)) or 1.0
        out[at : at + m] = source / rms * rng.uniform(0.3, 1.3)
        at += m + (int(rng.uniform(0.02, 0.5) * rate) if rng.random() < 0.4 else 0)
    return out
