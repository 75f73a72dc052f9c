"""What a recording of known text, tones and rate contains, measured by matched
filters. Used on this folder's recordings and on those of `markhold air` alike.
"""

from dataclasses import dataclass

import numpy as np
from scipy.io import wavfile

import formulas
from demodulator import correlate, element_bits, element_times, locate, uart


@dataclass
class Layout:
    """Where the elements are: tones in Hz, rate in baud, character starts in s."""

    mark: float
    space: float
    baud: float
    start: np.ndarray
    codes: list


def read_wav(path):
    """(float samples, rate) of the first channel."""
    rate, x = wavfile.read(path)
    x = x[:, 0] if x.ndim > 1 else x
    return x.astype(float) / (32768.0 if x.dtype == np.int16 else 1.0), rate


def layout(samples, rate, mark, space, baud, stop):
    """Layout of a clean recording at continuous pace, and the stop units measured.
    Raises ValueError where the characters do not follow each other evenly."""
    heard = uart(samples, rate, mark, space, baud)
    if len(heard) < 10:
        raise ValueError(f"only {len(heard)} characters found in the clean recording")
    starts, codes = np.array([s for s, _ in heard]), [c for _, c in heard]
    k = np.arange(len(starts))
    period, first = np.polyfit(k, starts, 1)
    if np.max(np.abs(first + period * k - starts)) * baud > 0.1:
        raise ValueError("characters are not evenly spaced in the clean recording")
    nominal = (6 + stop) / baud
    begin = locate(samples, rate, mark, space, k * nominal, element_bits(codes), baud, first)
    return Layout(mark, space, baud, begin + k * nominal, codes), period * baud - 6


def right_and_wrong(samples, rate, at):
    """(amplitude in the sent tone's correlator, in the other's), [characters, 7] complex;
    the other's is cleared of what leaks over from the sent tone."""
    mark, space = correlate(samples, rate, at.mark, at.space, at.start, at.baud)
    bits = element_bits(at.codes)
    right, wrong = np.where(bits, mark, space), np.where(bits, space, mark)
    apart = np.where(bits, at.mark - at.space, at.space - at.mark)
    begin = element_times(at.start, at.baud)
    leak = np.sinc(apart / at.baud) * np.exp(1j * np.pi * apart / at.baud) * np.exp(2j * np.pi * (apart * begin % 1.0))
    return right, wrong - leak * right


def es_n0_db(samples, rate, at):
    """Es/N0 in dB: power in the sent tone over noise in the other tone's correlator."""
    right, wrong = right_and_wrong(samples, rate, at)
    r = abs(formulas.tone_correlation(at.mark - at.space, at.baud))
    noise = np.mean(np.abs(wrong) ** 2) / (1 - r * r)
    return 10 * np.log10((np.mean(np.abs(right) ** 2) - noise) / noise)


def error_rate(samples, rate, at):
    """(errors, elements) of envelope comparison."""
    mark, space = correlate(samples, rate, at.mark, at.space, at.start, at.baud)
    bits = element_bits(at.codes)
    return int(np.sum((np.abs(mark) > np.abs(space)) != bits)), bits.size


def tone_powers(samples, rate, at):
    """[characters] power of space in the start elements and of mark in the stop elements."""
    right, _ = right_and_wrong(samples, rate, at)
    return np.abs(right[:, 0]) ** 2, np.abs(right[:, 6]) ** 2


def power_autocorrelation(power, lag):
    """Normalised covariance of a power series at a lag; the square of the tap's
    autocorrelation where the tap is complex Gaussian."""
    d = power - np.mean(power)
    return np.mean(d[lag:] * d[:-lag]) / np.mean(d * d)


def correlation(a, b):
    """Correlation coefficient of two power series."""
    return float(np.corrcoef(a, b)[0, 1])


def crash_level(samples, rate, signal_power):
    """(power of the crashes in a 4 kHz band over the signal in dB, number of crashes).

    Blocks of 1 ms that stand 10 dB over the signal belong to a crash; the first and
    last block of each run hold a part only and are left out.
    """
    step = int(rate * 0.001)
    blocks = (samples[: len(samples) // step * step] ** 2).reshape(-1, step).mean(axis=1)
    hot = np.convolve(blocks > 10 * signal_power, np.ones(3), "same") >= 2
    edges = np.flatnonzero(np.diff(np.concatenate(([0], hot.astype(int), [0]))))
    runs = edges.reshape(-1, 2)
    inside = np.concatenate([blocks[a + 1 : b - 1] for a, b in runs if b - a > 3]) if len(runs) else np.array([0.0])
    power = (np.mean(inside) - signal_power) * 4000.0 / (rate / 2)
    return 10 * np.log10(max(power, 1e-30) / signal_power), len(runs)
