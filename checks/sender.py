"""The sending machine: codes to a keyed line, and the line to an FSK signal.

All times are seconds from the start of the recording. The signal is given as
the complex (analytic) waveform of unit amplitude at any instants, so a delayed
path is the same function asked at earlier times and no resampling is involved.
"""

from dataclasses import dataclass

import numpy as np


@dataclass
class Line:
    """The keyed line as a list of stretches.

    begin  s, [n] start of each stretch, rising; the first is the transmitter switching on
    mark   bool, [n] polarity of each stretch
    end    s, transmitter switches off
    element_begin  s, [characters] ideal start edge of each character
    """

    begin: np.ndarray
    mark: np.ndarray
    end: float
    element_begin: np.ndarray


def idle_gaps(rng, codes, unit):
    """Extra idle mark after each character at keyboard pace, s.

    A typist of about 35 words a minute: exponential gaps of mean 0.12 s,
    after a space now and then a pause of 0.3 to 2.5 s. Some characters follow
    at once, as when keys are struck faster than the machine can send.
    """
    gaps = np.where(rng.random(len(codes)) < 0.25, 0.0, rng.exponential(0.12, len(codes)))
    pause = (np.asarray(codes) == 4) & (rng.random(len(codes)) < 0.15)
    return gaps + pause * rng.uniform(0.3, 2.5, len(codes))


def key(codes, baud, stop, begin, lead, tail, gaps=None):
    """Ideal start-stop line: `lead` s of mark, then for each code a space start
    element, five code elements (least significant first), a stop of `stop`
    units of mark and the idle gap; `tail` s of mark at the end.

    Every element is its own stretch, also where the polarity stays the same.
    """
    unit = 1.0 / baud
    codes = np.asarray(codes, dtype=int)
    gaps = np.zeros(len(codes)) if gaps is None else gaps
    start = begin + lead + np.concatenate(([0.0], np.cumsum((6 + stop) * unit + gaps)))[:-1]
    edges = start[:, None] + unit * np.arange(7)
    bits = np.zeros((len(codes), 7), dtype=bool)
    bits[:, 1:6] = (codes[:, None] >> np.arange(5)) & 1
    bits[:, 6] = True
    last = (start[-1] + (6 + stop) * unit + gaps[-1]) if len(codes) else begin + lead
    return Line(
        begin=np.concatenate(([begin], edges.ravel())),
        mark=np.concatenate(([True], bits.ravel())),
        end=float(last + tail),
        element_begin=start,
    )


def distort(line, rng, unit, jitter_ms=0.0, bias=0.0):
    """Displaces the transitions: independently by Gaussian jitter of `jitter_ms`
    rms, and by bias distortion (part of a unit by which every mark run is
    lengthened; negative lengthens spaces). Bounded to 0.45 unit so that the
    order of elements stays. Boundaries between equal elements carry no
    transition and stay where they are."""
    begin = line.begin.copy()
    change = np.flatnonzero(line.mark[1:] != line.mark[:-1]) + 1
    to_space = ~line.mark[change]
    shift = rng.normal(0.0, jitter_ms * 1e-3, len(change)) if jitter_ms else np.zeros(len(change))
    shift += np.where(to_space, 0.5, -0.5) * bias * unit
    begin[change] += np.clip(shift, -0.45 * unit, 0.45 * unit)
    return Line(begin, line.mark, line.end, line.element_begin)


class Transmitter:
    """FSK of a line. `sender` is

    continuous  one oscillator moved between the tones: the phase never jumps
    two         two free-running oscillators switched by the line
    random      a fresh random phase at every element
    """

    def __init__(self, line, mark_hz, space_hz, rng, sender="continuous"):
        self.line = line
        self.freq = np.where(line.mark, mark_hz, space_hz).astype(float)
        length = np.diff(np.append(line.begin, line.end))
        if sender == "continuous":
            turns = np.concatenate(([0.0], np.cumsum(self.freq * length)[:-1]))
            self.phase = 2 * np.pi * (turns % 1.0 + rng.random())
        elif sender == "two":
            free = 2 * np.pi * rng.random(2)
            self.phase = np.where(line.mark, free[0], free[1]) + 2 * np.pi * (self.freq * line.begin % 1.0)
        elif sender == "random":
            self.phase = 2 * np.pi * rng.random(len(self.freq))
        else:
            raise ValueError(f"sender {sender!r}: expected continuous, two or random")

    def wave(self, t):
        """Analytic signal at the rising instants `t`; 0 while the transmitter is off."""
        k = np.searchsorted(self.line.begin, t, side="right") - 1
        on = (k >= 0) & (t < self.line.end)
        k = np.maximum(k, 0)
        phase = self.phase[k] + 2 * np.pi * self.freq[k] * (t - self.line.begin[k])
        return np.where(on, np.exp(1j * phase), 0.0)
