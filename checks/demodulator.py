"""A plain demodulator with everything given: tones, modulation rate and the time
of each element. It is no receiver; it measures what a recording contains.
"""

import numpy as np


class Matched:
    """Correlates with a tone over any stretch by differences of a running sum.

    samples  real [n] at `rate`
    """

    def __init__(self, samples, rate, tone_hz, turns=None):
        n = np.arange(len(samples))
        phase = 2j * np.pi * (tone_hz * n / rate % 1.0)
        if turns is not None:
            phase = phase + 2j * np.pi * (turns % 1.0)
        self.rate = rate
        self.sum = np.concatenate(([0.0], np.cumsum(2 * np.asarray(samples, float) * np.exp(-phase))))

    def over(self, begin, end):
        """Complex correlations over the instants begin..end (s, arrays), scaled by the
        time: the amplitude of a steady tone that fills the stretch. Ends between
        samples are interpolated. The phase is that of the tone at time 0."""
        return (self._at(end) - self._at(begin)) / ((end - begin) * self.rate)

    def _at(self, t):
        x = np.clip(np.asarray(t) * self.rate, 0, len(self.sum) - 1.0)
        k = np.minimum(x.astype(int), len(self.sum) - 2)
        return self.sum[k] + (x - k) * (self.sum[k + 1] - self.sum[k])


def element_times(start, baud):
    """[characters, 7] begins of the start element, the five code elements and the
    first unit of the stop element."""
    return np.asarray(start)[:, None] + np.arange(7) / baud


def element_bits(codes):
    """[characters, 7] polarity of the same elements, True for mark."""
    codes = np.asarray(codes, dtype=int)
    bits = np.zeros((len(codes), 7), dtype=bool)
    bits[:, 1:6] = (codes[:, None] >> np.arange(5)) & 1
    bits[:, 6] = True
    return bits


def correlate(samples, rate, mark_hz, space_hz, start, baud, turns=None):
    """([characters, 7], same): complex amplitudes in the mark and the space correlator."""
    t = element_times(start, baud)
    mark = Matched(samples, rate, mark_hz, turns).over(t, t + 1 / baud)
    space = Matched(samples, rate, space_hz, turns).over(t, t + 1 / baud)
    return mark, space


def element_errors(mark, space, bits):
    """(errors, elements) of the comparison of the two envelopes."""
    decided = np.abs(mark) > np.abs(space)
    return int(np.sum(decided != bits)), bits.size


def uart(samples, rate, mark_hz, space_hz, baud):
    """[(start s, code)] read by a simple start-stop receiver from a clean recording:
    envelopes averaged over half an element, start at the first fall to space, then
    each element decided at its middle."""
    m, s = Matched(samples, rate, mark_hz), Matched(samples, rate, space_hz)
    unit, per = 1 / baud, 16  # grid points a unit
    grid = np.arange(unit, len(samples) / rate - unit, unit / per)
    half = unit / 4
    on_mark, on_space = np.abs(m.over(grid - half, grid + half)), np.abs(s.over(grid - half, grid + half))
    is_space = (on_mark < on_space) & (on_mark + on_space > 0.2 * np.max(on_mark + on_space))
    falls = np.flatnonzero(is_space)
    middles = per * np.arange(1, 7) + per // 2
    out, k = [], 0
    while True:
        next_fall = np.searchsorted(falls, k)
        if next_fall == len(falls) or falls[next_fall] + middles[-1] >= len(grid):
            return out
        k = int(falls[next_fall])
        bits = ~is_space[k + middles]
        if bits[5]:
            out.append((float(grid[k]), int(np.sum(bits[:5] << np.arange(5)))))
            k += int(middles[5])
        else:
            k += per // 2


def locate(samples, rate, mark_hz, space_hz, relative, bits, baud, guess, reach=0.01):
    """Start of the first character, s, by the greatest agreement of envelopes with the
    known elements; `relative` are the character starts after the first's. Searched
    `reach` s around `guess`."""
    m, s = Matched(samples, rate, mark_hz), Matched(samples, rate, space_hz)
    sign = np.where(bits, 1.0, -1.0)
    unit = 1 / baud

    def merit(at):
        t = element_times(at + relative, baud)
        return float(np.sum(sign * (np.abs(m.over(t, t + unit)) ** 2 - np.abs(s.over(t, t + unit)) ** 2)))

    span = reach
    while span > 1e-5:
        offers = guess + np.linspace(-span, span, 21)
        guess = float(offers[int(np.argmax([merit(o) for o in offers]))])
        span /= 5
    return guess
