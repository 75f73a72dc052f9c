"""Keyed tones: speed, distortion, phase and spectrum of what the tone keyer writes.

The example `keyed_tones` of markhold-wire gets codes and writes WAV. Here it is taken
apart with numpy and scipy: the analytic signal by a transform, frequency by differences
of its phase, edges where the frequency passes half way between the tones, and from them
the characters.

Limits: speed within 0.01 %, start-stop distortion below 1 % (Federal Standard 1037C
defines it). The spectrum mask follows from the course of the frequency alone, see `mask`.
"""

import subprocess

import numpy as np
from scipy.fft import next_fast_len
from scipy.signal import get_window, hilbert, resample_poly

from examples import example

MARGIN_S = 0.5  # mark before and after, as the example documents
GLIDE_UNITS = 0.25  # time from tone to tone in elements, as TonePlan documents
SPEED_LIMIT, DISTORTION_LIMIT = 1e-4, 1e-2
CHARACTERS, SEED = 150, 45

# baud, stop units, mark Hz, space Hz, samples per second
CASES = [
    (1 / 0.022, 1.5, 2125, 2295, 8000),
    (1 / 0.022, 1.42, 2125, 2295, 44100),
    (1 / 0.022, 1.5, 1445, 1275, 11025),
    (50, 1.5, 2125, 2975, 48000),
    (75, 1.0, 1275, 1445, 12000),
    (100, 2.0, 2125, 2550, 44100),
]


def ask_example(keyed, codes, case, encoding="f32"):
    """Samples of these codes as float64, without the header's opinion of their number."""
    arguments = [str(a) for a in case] + [encoding]
    done = subprocess.run([keyed, *arguments], input=bytes(codes), capture_output=True)
    if done.returncode:
        raise RuntimeError(f"keyed_tones, exit {done.returncode}: {done.stderr.decode()[-300:]}")
    data = done.stdout.index(b"data") + 8
    kind, scale = ("<f4", 1.0) if encoding == "f32" else ("<i2", 32768.0)
    return np.frombuffer(done.stdout[data:], kind).astype(float) / scale


def ideal_edges(codes, baud, stop):
    """Instants of all transitions from the first start edge, in units, and their character."""
    edges, at, line = [], 0.0, 1
    for n, code in enumerate(codes):
        for level, units in [(0, 1)] + [(code >> k & 1, 1) for k in range(5)] + [(1, stop)]:
            if level != line:
                edges.append((at, n))
                line = level
            at += units
    return np.array(edges)


def frequency(samples, rate):
    """Instantaneous frequency, Hz, at 48 kHz or more; samples for each of the sound's."""
    fine = int(np.ceil(48000 / rate))
    filled = np.concatenate([samples, np.zeros(next_fast_len(len(samples)) - len(samples))])
    phase = np.unwrap(np.angle(hilbert(resample_poly(filled, fine, 1, window=("kaiser", 12.0)))))
    return np.diff(phase[: fine * len(samples)]) * rate * fine / (2 * np.pi), fine


def crossings(hz, rate, mark, space):
    """Instants, s, at which the frequency passes half way, by straight lines."""
    x = (hz - (mark + space) / 2) * np.sign(mark - space)
    k = np.nonzero(np.signbit(x[:-1]) != np.signbit(x[1:]))[0]
    return (k + 0.5 + x[k] / (x[k] - x[k + 1])) / rate


def decode(times, begin, baud, stop):
    """Characters by a plain start-stop decoder, sampling element centres, on the edges found."""
    unit, at, values, i = 1 / baud, begin, [], 0
    while i < len(times):
        start = times[i]
        level = [np.searchsorted(times, start + (k + 0.5) * unit) % 2 == 0 for k in range(1, 6)]
        values.append(sum(int(v) << k for k, v in enumerate(level)))
        i = np.searchsorted(times, start + 6 * unit + 0.5 * stop * unit)
    return values


def timing(report, name, samples, codes, case, exact_begin=True):
    """Characters, speed, distortion."""
    baud, stop, mark, space, rate = case
    skip = int(0.1 * rate)
    hz, fine = frequency(samples, rate)
    times = crossings(hz[skip * fine : -skip * fine], rate * fine, mark, space)
    edges = ideal_edges(codes, baud, stop)
    report.equal(f"{name}: transitions", len(times), len(edges))
    if len(times) != len(edges):
        return
    report.check(f"{name}: characters decoded", decode(times, times[0], baud, stop) == codes, f"{len(codes)}")
    unit = np.polyfit(edges[:, 0], times, 1)[0]
    error = 1 / (unit * baud) - 1
    report.check(f"{name}: speed", abs(error) < SPEED_LIMIT, f"error {error:+.1e}, allowed {SPEED_LIMIT:.0e}")
    first = np.unique(edges[:, 1], return_index=True)[1][edges[:, 1].astype(int)]
    off = (times - times[first]) * baud - (edges[:, 0] - edges[first, 0])
    worst = np.max(np.abs(off))
    report.check(f"{name}: start-stop distortion", worst < DISTORTION_LIMIT, f"{worst:.3%}, allowed 1 %")
    if not exact_begin:
        return
    begin = times[0] + skip / rate - MARGIN_S - GLIDE_UNITS / 2 / baud
    report.check(f"{name}: first edge half a glide after the line's", abs(begin * baud) < 0.01, f"off by {begin * baud:.2%} of an element")


def ideal_phase(edges_s, n, case):
    """Phase of the ideal signal, rad, at sample instants: the integral of the documented glide."""
    baud, _, mark, space, rate = case
    t, glide = np.arange(n) / rate, GLIDE_UNITS / baud
    phase = 2 * np.pi * mark * t
    for k, edge in enumerate(edges_s):
        u = t[np.searchsorted(t, edge) :] - edge
        inside = u / 2 - glide / (2 * np.pi) * np.sin(np.pi * np.minimum(u, glide) / glide)
        turns = np.where(u < glide, inside, u - glide / 2)
        phase[n - len(u) :] += (-1) ** k * 2 * np.pi * (space - mark) * turns
    return phase


def continuous(report, name, samples, codes, case):
    """Nothing but one sine whose phase follows the line: the rest is rounding."""
    baud, stop, _, _, rate = case
    edges_s = MARGIN_S + ideal_edges(codes, baud, stop)[:, 0] / baud
    phase = ideal_phase(edges_s, len(samples), case)
    on = slice(int(0.05 * rate), -int(0.05 * rate))
    basis = np.stack([np.sin(phase[on]), np.cos(phase[on])], 1)
    fit, *_ = np.linalg.lstsq(basis, samples[on], rcond=None)
    rest = np.max(np.abs(samples[on] - basis @ fit))
    report.near(f"{name}: amplitude", float(np.hypot(*fit)), 0.5, 1e-6)
    # f32 rounds 0.5 by 3e-8; 2^-24 of a sample an edge and a thousand edges are 2e-4 rad
    # at the most where all are rounded alike.
    report.check(f"{name}: phase follows the line without a jump", rest < 1e-4, f"greatest difference {rest:.1e}, allowed 1e-4")


def far_from(case):
    """Distance from the tones, Hz, from which the mask's series is good: each of its terms
    but the first is below half."""
    shift, glide = abs(case[2] - case[3]), GLIDE_UNITS / case[0]
    return max(1.5 / glide, (2.5 * shift / glide**2) ** (1 / 3))


def mask(hz, case, edges_per_s):
    """Most that is expected at these frequencies, 1/Hz against the carrier, as a mean over
    1/T Hz.

    The frequency glides by D along half a period of a cosine in T. Integrating the Fourier
    integral of one glide by parts leaves what its two ends contribute, where the second
    derivative of the frequency jumps by D/2 (pi/T)^2; with d the distance from the tone
    there and J = pi^3 D / T^2,

        J / (2 pi d)^4 * (1 + 1/(2dT)^2 + ... + 10 J / (2 pi d)^3 + ...).

    The first series is geometric. Both ends are taken to add in phase. Glides follow each
    other on a grid of quarter elements (T is one), so their cross terms turn full circles
    within 1/T Hz and vanish in the mean; what is left is edges_per_s times one glide. The
    other half of a real signal's spectrum, at -f, and what sampling folds back, from
    rate - f, are added in phase too.
    """
    baud, _, mark_hz, space_hz, rate = case
    glide, shift = GLIDE_UNITS / baud, abs(mark_hz - space_hz)
    jump = np.pi**3 * shift / glide**2

    def end(d):
        return jump / (2 * np.pi * d) ** 4 * (1 / (1 - 1 / (2 * d * glide) ** 2) + 10 * jump / (2 * np.pi * d) ** 3)

    ends = sum(end(np.abs(f - tone)) for f in (hz, -hz, rate - hz) for tone in (mark_hz, space_hz))
    return edges_per_s * ends**2


def density(samples, rate):
    """Mean spectral density, 1/Hz against the power of the tone, by frames whose window
    leaks less than 120 dB (4 s Kaiser window of beta 18)."""
    n = int(4 * rate) // 2 * 2
    window = get_window(("kaiser", 18.0), n)
    frames = [samples[k : k + n] for k in range(0, len(samples) - n + 1, n // 2)]
    power = np.mean([np.abs(np.fft.rfft(f * window)) ** 2 for f in frames], 0)
    return np.fft.rfftfreq(n, 1 / rate), 2 * power / (rate * np.sum(window**2)) / (0.5**2 / 2)


def hard_keyed(codes, case):
    """The same line with the frequency switched at once, made here: must fail the mask."""
    baud, stop, mark_hz, space_hz, rate = case
    edges_s = MARGIN_S + ideal_edges(codes, baud, stop)[:, 0] / baud
    t = np.arange(int((edges_s[-1] + MARGIN_S) * rate)) / rate
    turns = mark_hz * t
    for k, edge in enumerate(edges_s):
        turns += (-1) ** k * (space_hz - mark_hz) * np.maximum(t - edge, 0)
    return 0.5 * np.sin(2 * np.pi * turns)


def excess(sound, case, edges_per_s):
    """How far the sound is above the mask at its worst, dB, over both sides."""
    baud, _, mark_hz, space_hz, rate = case
    hz, found = density(sound, rate)
    # What the samples' own rounding leaves: 24 bits, spread over the band, against the tone.
    floor = 2.0**-48 / 3 / (rate / 2) / (0.5**2 / 2)
    low, high, beyond = min(mark_hz, space_hz), max(mark_hz, space_hz), far_from(case)
    width = round(baud / GLIDE_UNITS / hz[1])
    # A mean of so many independent values of a noise-like spectrum scatters by the root of
    # one in so many; four times that is passed by one in 30 000.
    chance = 1 + 4 / np.sqrt(baud / GLIDE_UNITS * len(sound) / rate)
    worst = []
    for far in [(hz > 20) & (hz < low - beyond), (hz > high + beyond) & (hz < rate / 2 - 20)]:
        if np.count_nonzero(far) > width:
            ratio = found[far] / np.maximum(mask(hz[far], case, edges_per_s), 10 * floor)
            worst.append(np.max(np.convolve(ratio, np.ones(width) / width, mode="valid")))
    return 10 * np.log10(max(worst) / chance)


def spectrum(report, name, samples, codes, case):
    """Under the mask; a line switched at once is not, which shows that the mask can tell."""
    baud, stop, _, _, rate = case
    on = slice(int(0.1 * rate), -int(0.1 * rate))
    edges_per_s = len(ideal_edges(codes, baud, stop)) / (len(codes) * (6 + stop) / baud)
    db = excess(samples[on], case, edges_per_s)
    report.check(f"{name}: spectrum", bool(db <= 0), f"{db:+.1f} dB against the mask at its worst, from {far_from(case):.0f} Hz beyond the tones")
    db = excess(hard_keyed(codes, case)[on], case, edges_per_s)
    report.check(f"{name}: the mask tells a line switched at once", bool(db > 20), f"{db:+.1f} dB")


def edges_of_sound(report, name, samples, case):
    """Soft start and end: no step in the first and last 10 ms beyond what the tone makes there."""
    rate, high = case[4], max(case[2], case[3])
    most = 2 * 0.5 * np.sin(np.pi * high / rate)
    steps = np.abs(np.diff(np.concatenate([[0.0], samples, [0.0]])))
    report.check(f"{name}: no step larger than the tone's own", steps.max() <= most + 1e-6, f"{steps.max():.4f}, allowed {most:.4f}")
    ends = max(steps[:3].max(), steps[-3:].max())
    report.check(f"{name}: begins and ends softly", ends < 0.01, f"largest step at the ends {ends:.5f} of full scale")


def checks(report, binary):
    """All cases."""
    keyed = example(binary, "markhold-wire", "keyed_tones")
    rng = np.random.default_rng(SEED)
    for case in CASES:
        codes = rng.integers(0, 32, CHARACTERS).tolist()
        name = f"{case[0]:.2f} Bd {case[1]} units {case[2]}/{case[3]} Hz at {case[4]}/s"
        samples = ask_example(keyed, codes, case)
        timing(report, name, samples, codes, case)
        continuous(report, name, samples, codes, case)
        spectrum(report, name, samples, codes, case)
        edges_of_sound(report, name, samples, case)
    coarse = ask_example(keyed, codes, case, "s16")
    worst = np.max(np.abs(coarse - samples))
    report.check("16-bit samples are the same sound", len(coarse) == len(samples) and worst <= 0.5 / 32768 + 1e-9, f"greatest difference {worst * 32768:.2f} steps")
