"""What happens on the way: fading, drift, noise, static, a neighbour, the AGC.

Powers are those of real signals: a tone of amplitude 1 has power 1/2.
`rng` is a numpy Generator throughout; the same generator state gives the same
result.
"""

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import hilbert

# Power of the unit-amplitude FSK signal that Es and all "dB over the signal" refer to.
SIGNAL_POWER = 0.5


def noise_density(esn0_db, baud):
    """One-sided N0 for a signal of power SIGNAL_POWER, Es = power / baud."""
    return SIGNAL_POWER / baud / 10 ** (esn0_db / 10)


def white(rng, n, density, rate):
    """`n` samples of real Gaussian noise of one-sided density `density` from 0 to rate/2."""
    return rng.normal(0.0, np.sqrt(density * rate / 2), n)


def fading_tap(rng, n, rate, spread_hz):
    """[n] complex Gaussian tap, mean power 1, Gaussian Doppler spectrum with
    2 sigma = `spread_hz` (ITU-R F.1487 convention), autocorrelation
    exp(-pi^2 B^2 t^2 / 2).

    Shaped by FFT at 32 times the spread over twice the length (the circular
    end is thrown away) and interpolated by a cubic spline.
    """
    low = 32 * spread_hz
    need = int(np.ceil(n / rate * low)) + 4
    m = max(2 * need, need + 64)
    f = np.fft.fftfreq(m, 1 / low)
    shape = np.exp(-f**2 / (4 * (spread_hz / 2) ** 2))  # square root of the power spectrum
    shape *= np.sqrt(1.0 / np.mean(shape**2))
    # E|ifft(white * shape)|^2 = mean(shape^2) / m * var, so var = m gives power 1.
    spectrum = rng.normal(0, np.sqrt(m / 2), m) + 1j * rng.normal(0, np.sqrt(m / 2), m)
    slow = np.fft.ifft(spectrum * shape)[:need]
    return CubicSpline(np.arange(need) / low, slow)(np.arange(n) / rate)


def two_path(rng, wave, t, rate, delay_ms, spread_hz):
    """Watterson channel of two equal paths, mean total power 1: `wave(t)` gives
    the analytic signal at instants t."""
    direct = fading_tap(rng, len(t), rate, spread_hz)
    late = fading_tap(rng, len(t), rate, spread_hz)
    return (direct * wave(t) + late * wave(t - delay_ms * 1e-3)) / np.sqrt(2)


def linear_drift(t, hz_per_s):
    """Turns (cycles) added by a frequency offset of `hz_per_s * t`."""
    return 0.5 * hz_per_s * t**2


def warm_up_drift(t, hz, tau):
    """Turns added by an offset that starts `hz` away and decays to 0 with time constant `tau` s."""
    return hz * tau * (1 - np.exp(-t / tau))


def dial_jumps(t, hz, every, alternate):
    """Turns added by dial jumps of `hz` each `every` s, up and down again or always the same way."""
    k = np.floor(t / every)
    within = t - k * every
    if alternate:
        done = np.floor(k / 2)
        return hz * np.where(k % 2 == 1, done * every + within, done * every)
    return hz * (every * k * (k - 1) / 2 + k * within)


def crash_times(rng, seconds, per_second, regular):
    """Starts of the crashes, s: Poisson, or one at a random place in each period."""
    if regular:
        period = 1 / per_second
        k = np.arange(int(seconds * per_second))
        return (k + rng.random(len(k)) * 0.9) * period
    return np.sort(rng.uniform(0, seconds, rng.poisson(seconds * per_second)))


def crashes(rng, n, rate, per_second, over_db=25.0, regular=False):
    """[n] static: white bursts lasting uniformly 5 to 60 ms, each `over_db` above
    the signal in a 4 kHz band. Also gives the list of (start s, length s)."""
    density = SIGNAL_POWER * 10 ** (over_db / 10) / 4000.0
    out, log = np.zeros(n), []
    for start in crash_times(rng, n / rate, per_second, regular):
        length = rng.uniform(0.005, 0.060)
        a = int(start * rate)
        b = min(n, a + int(length * rate))
        out[a:b] += white(rng, b - a, density, rate)
        log.append((float(start), float(length)))
    return out, log


# International Morse code (ITU-R M.1677) of the letters, for hand-keyed neighbours.
MORSE = (".- -... -.-. -.. . ..-. --. .... .. .--- -.- .-.. -- -. --- .--. --.- .-. ... - "
         "..- ...- .-- -..- -.-- --..").split()


def morse_keying(rng, seconds, wpm):
    """(down s, up s) arrays of random Morse letters in words; dot = 1.2 / wpm s."""
    dot = 1.2 / wpm
    now, down, up = float(rng.uniform(0, 0.5)), [], []
    while now < seconds:
        for mark in MORSE[int(rng.integers(26))]:
            length = dot * (1 if mark == "." else 3) * rng.normal(1.0, 0.05)
            down.append(now)
            up.append(now + length)
            now += length + dot
        now += dot * (2 if rng.random() < 0.8 else 6)
    return np.array(down), np.array(up)


def keyed_carrier(t, hz, phase, down, up, edge=0.005):
    """Real carrier of amplitude 1 keyed with raised-cosine edges of `edge` s."""
    k = np.searchsorted(down, t, side="right") - 1
    inside = k >= 0
    k = np.maximum(k, 0)
    rise = np.clip((t - down[k]) / edge, 0, 1)
    fall = np.clip((up[k] + edge - t) / edge, 0, 1)
    envelope = np.where(inside, 0.25 * (1 - np.cos(np.pi * rise)) * (1 - np.cos(np.pi * fall)), 0.0)
    return envelope * np.cos(2 * np.pi * hz * t + phase)


def agc(x, rate, attack=0.002, decay=0.5):
    """Receiver gain control on everything: the level follows the envelope with
    time constant `attack` upward and `decay` downward, output = input / level.

    The level runs in steps of half a millisecond on the greatest envelope of each step.
    """
    step = max(1, int(rate * 0.0005))
    envelope = np.abs(hilbert(np.append(x, np.zeros(-len(x) % step))))
    peak = envelope.reshape(-1, step).max(axis=1)
    a, d = 1 - np.exp(-step / rate / attack), 1 - np.exp(-step / rate / decay)
    level = np.empty(len(peak))
    now = float(np.mean(peak[: max(1, int(0.1 * rate / step))]))
    for i, p in enumerate(peak.tolist()):
        now += (a if p > now else d) * (p - now)
        level[i] = now
    at = (np.arange(len(level)) + 1.0) * step
    return x / np.interp(np.arange(len(x)), at, np.maximum(level, 1e-9))
