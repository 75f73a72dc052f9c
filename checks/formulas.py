"""Closed formulas the measurements are held against.

Error rates: Proakis, Digital Communications; Simon & Alouini, Digital
Communication over Fading Channels. Fading statistics: Rice. `g` is Es/N0 as a
ratio, E the energy of one element, N0 one-sided.
"""

import numpy as np
from scipy.special import ive
from scipy.stats import beta, ncx2, norm


def ratio(db):
    """Power ratio of decibels."""
    return 10 ** (np.asarray(db) / 10)


def marcum_q1(a, b):
    """Marcum's Q1: P(noncentral chi squared, 2 degrees of freedom, noncentrality a^2, exceeds b^2)."""
    return ncx2.sf(b**2, 2, a**2) if a > 0 else np.exp(-(b**2) / 2)


def tone_correlation(shift, baud):
    """Complex correlation of the two tones over one element (phase referred to its beginning)."""
    h = shift / baud
    return np.sinc(h) * np.exp(1j * np.pi * h)


def noncoherent(g, r=0.0):
    """Binary FSK by envelope comparison, tone correlation of size r."""
    if r < 1e-9:
        return 0.5 * np.exp(-g / 2)
    root = np.sqrt(1 - r * r)
    a, b = np.sqrt(g / 2 * (1 - root)), np.sqrt(g / 2 * (1 + root))
    return marcum_q1(a, b) - 0.5 * np.exp(-((a - b) ** 2) / 2) * ive(0, a * b)


def coherent(g, rho=0.0):
    """Binary FSK with known phase, real tone correlation rho."""
    return norm.sf(np.sqrt(g * (1 - rho)))


def rayleigh(g):
    """Non-coherent orthogonal FSK in slow flat Rayleigh fading of mean g."""
    return 1 / (2 + g)


def tap_autocorrelation(t, spread):
    """Of a tap with Gaussian Doppler spectrum, 2 sigma = spread Hz."""
    return np.exp(-(np.pi * spread * t) ** 2 / 2)


def upward_crossings(rho, spread):
    """Of the level rho (times rms) by the Rayleigh envelope, per second."""
    return np.sqrt(np.pi) * spread * rho * np.exp(-(rho**2))


def below(rho):
    """Share of time that the Rayleigh envelope is below rho times rms."""
    return 1 - np.exp(-(rho**2))


def tone_fading_correlation(shift, delay):
    """Size of the correlation of the fading of two tones over two equal paths."""
    return abs(np.cos(np.pi * shift * delay))


def binomial_interval(k, n, doubt=1e-4):
    """Clopper-Pearson interval that fails with probability `doubt` where trials are independent."""
    low = beta.ppf(doubt / 2, k, n - k + 1) if k else 0.0
    high = beta.ppf(1 - doubt / 2, k + 1, n - k) if k < n else 1.0
    return low, high
