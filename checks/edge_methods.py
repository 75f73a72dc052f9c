"""Which way finds the edges of FSK best: a table, nothing is judged.

Two ways, each smoothed by a Hann window half and one whole element long: the difference of
the two tones' amplitudes, and the instantaneous frequency. Printed: mean error of edges to
space and to mark and the scatter of all, % of an element; edges missed and too many.

    .venv/bin/python checks/edge_methods.py
"""

import numpy as np
from scipy.signal import firwin, oaconvolve

from check_bench import add_noise, line, tones

RATE, MIDDLE = 8000, 1500
CASES = ((1 / 0.022, 170), (50, 425), (75, 850), (100, 170))
WAYS = [(way, window) for way in ("amplitudes", "frequency") for window in (0.5, 1.0)]


def base(sound, shift, baud):
    """The analytic stream around the middle."""
    t = np.arange(len(sound)) / RATE
    return oaconvolve(sound * np.exp(-2j * np.pi * MIDDLE * t), firwin(401, shift / 2 + 1.5 * baud, fs=RATE), mode="same")


def curve(stream, shift, way, seconds):
    """Above 0 on mark, below on space, +-1 in full; its first value stands at the returned sample."""
    taps = int(round(seconds * RATE)) | 1
    window = np.hanning(taps + 2)[1:-1]
    window /= window.sum()
    if way == "frequency":
        hz = np.angle(stream[1:] * np.conj(stream[:-1])) * RATE / 2 / np.pi
        smooth = np.convolve(hz, window, mode="same")
        high, low = np.median(smooth[smooth > 0]), np.median(smooth[smooth < 0])
        return (high + low - 2 * smooth) / (high - low), 0.5
    k = np.arange(taps) - taps // 2
    low, high = (abs(oaconvolve(stream, window * np.exp(s * 1j * np.pi * shift * k / RATE), mode="same")) for s in (-1, 1))
    return low / np.median(low[low > high]) - high / np.median(high[high > low]), 0.0


def crossings(values, first):
    """Instants and conditions; a condition counts once the curve has come 0.3 to its side."""
    sides = np.concatenate([[0], np.nonzero(np.diff(values > 0))[0] + 1, [len(values)]])
    found, condition = [], None
    for begin, end in zip(sides[:-1], sides[1:]):
        mark = values[begin] > 0
        if np.abs(values[begin:end]).max() < 0.3 or mark == condition:
            continue
        if condition is not None:
            before, after = values[begin - 1], values[begin]
            found.append(((begin - 1 + first + before / (before - after)) / RATE, mark))
        condition = mark
    return np.array(found)


def errors(instants, marks, found, unit):
    """Error of each edge that was found within half a unit, and whether it is to mark."""
    for at, mark in zip(instants, marks):
        near = found[(found[:, 1] == mark) & (np.abs(found[:, 0] - at) < unit / 2)]
        if len(near):
            yield (near[np.argmin(np.abs(near[:, 0] - at)), 0] - at) / unit * 100, mark


def main():
    for baud, shift in CASES:
        instants, marks, _, length = line(baud, bias=0.1, end=0.1, fortuitous=0.1)
        clean = tones(instants, marks, length, RATE, MIDDLE - shift / 2, MIDDLE + shift / 2)
        for es_n0 in (60, 30, 25, 20, 15, 12):
            stream = base(add_noise(clean, RATE, baud, es_n0, 7), shift, baud)
            for way, window in WAYS:
                found = crossings(*curve(stream, shift, way, window / baud))
                off = np.array(list(errors(instants, marks, found, 1 / baud)))
                to_mark = off[:, 1] == 1
                print(
                    f"{baud:6.2f} Bd {shift} Hz Es/N0 {es_n0} dB  {way:10} window {window:.1f}: "
                    f"{off[~to_mark, 0].mean():+.2f} {off[to_mark, 0].mean():+.2f} scatter {off[:, 0].std():.2f}, "
                    f"{len(instants) - len(off)} missed, {max(0, len(found) - len(instants))} too many"
                )


if __name__ == "__main__":
    main()
