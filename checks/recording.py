"""A case and a seed to a recording: samples, the text and what was done."""

import zlib
from dataclasses import asdict, dataclass

import numpy as np

import air
import interference
import texts
from alphabet import CR, LF, LTRS, encode
from sender import Transmitter, distort, idle_gaps, key


@dataclass
class Recording:
    """samples: float64 [n], unscaled (signal amplitude 1 before fading and AGC)."""

    samples: np.ndarray
    rate: int
    text: str
    codes: list
    facts: dict


def generator(case, seed):
    """The generator of a case and seed: independent between cases and seeds."""
    return np.random.default_rng([seed, zlib.crc32(case.name.encode())])


def _tones(case, rng):
    half = case.shift / 2
    if case.centre is not None:
        centre = case.centre
    elif case.anywhere:
        centre = rng.uniform(400 + half, 2800 - half)
    else:
        # The customary pairs 2125/2295 and 1275/1445 Hz, dial set by ear within 20 Hz.
        # Wide shifts stand in the middle of the passband.
        usual = (2210.0, 1360.0) if case.shift <= 200 else (1700.0,)
        centre = usual[int(rng.integers(len(usual)))] + rng.uniform(-20, 20)
    low, high = centre - half, centre + half
    return (high, low) if case.mark_high else (low, high)


def _message(case, rng):
    """(text, codes, gaps): a few letters shifts and a new line before the text, as
    an operator does, so that paper and shift stand right. They count in the
    codes, not in the text."""
    preamble = [LTRS, LTRS, CR, CR, LF]
    unit = 1 / case.baud
    want = int(rng.integers(case.characters[0], case.characters[1] + 1))
    if case.seconds is not None:
        want = int(case.seconds / ((6 + case.stop) * unit)) + 1
    text = texts.text(rng, want, case.matter)
    codes = preamble + encode(text, LTRS)
    if case.seconds is not None:
        while len(codes) * (6 + case.stop) * unit > case.seconds:
            text = text[: -max(1, int(0.02 * len(text)))].rstrip()
            codes = preamble + encode(text, LTRS)
    gaps = idle_gaps(rng, codes, unit) if case.pace == "keyboard" else None
    return text, codes, gaps


def _turns(case, t, rng, facts):
    """Frequency offset of the dial, integrated to turns."""
    turns = np.zeros(len(t))
    direction = 1.0 if rng.random() < 0.5 else -1.0
    if case.drift_hz_per_s:
        turns += direction * air.linear_drift(t - t[-1] / 2, case.drift_hz_per_s)
    if case.jumps:
        alternate = bool(rng.random() < 0.5)
        facts["jumps"] = "alternating" if alternate else "one way"
        turns += direction * air.dial_jumps(t, 60.0, 30.0, alternate)
    if case.warmup:
        # Five time constants in ten minutes: within 2 Hz at the end.
        turns += direction * air.warm_up_drift(t, 300.0, 120.0)
    facts["drift_direction"] = direction
    return turns


def _signal(case, rng, facts):
    """(analytic wave function, line, text, codes, duration s)."""
    text, codes, gaps = _message(case, rng)
    before, after = rng.uniform(1, 3, 2)
    lead, tail = rng.uniform(1, 3), rng.uniform(0.3, 1.0)
    line = key(codes, case.baud, case.stop, before, lead, tail, gaps)
    element_begin = line.element_begin
    if case.jitter_ms or case.bias:
        line = distort(line, rng, 1 / case.baud, case.jitter_ms, case.bias)
    mark, space = _tones(case, rng)
    facts.update(mark_hz=mark, space_hz=space, on_s=float(before), off_s=line.end, lead_s=float(lead))
    facts["start_s"] = [round(float(s), 6) for s in element_begin]
    return Transmitter(line, mark, space, rng, case.sender), text, codes, line.end + after


def make(case, seed):
    """Makes the recording of a case that sends text."""
    rng = generator(case, seed)
    facts = {"seed": seed}
    transmitter, text, codes, duration = _signal(case, rng, facts)
    rate = case.rate
    t = np.arange(int(duration * rate)) / rate
    if case.paths:
        x = air.two_path(rng, transmitter.wave, t, rate, *case.paths)
    else:
        x = transmitter.wave(t)
    turns = _turns(case, t, rng, facts)
    if np.any(turns):
        x = x * np.exp(2j * np.pi * (turns % 1.0))
    x = x.real
    x = _add_neighbour(case, rng, x, t, facts)
    if case.esn0_db is not None:
        x = x + air.white(rng, len(x), air.noise_density(case.esn0_db, case.baud), rate)
    if case.crashes_per_s:
        regular = seed % 2 == 0
        static, log = air.crashes(rng, len(x), rate, case.crashes_per_s, regular=regular)
        x = x + static
        facts.update(crashes=log, crash_times="regular" if regular else "Poisson")
    if case.receiver_agc:
        x = air.agc(x, rate)
    facts.update(case=asdict(case), text=text, codes=codes)
    return Recording(x, rate, text, codes, facts)


def _add_neighbour(case, rng, x, t, facts):
    """A carrier keyed at 20 words a minute, 400 Hz outside the nearer tone."""
    if case.neighbour_db is None:
        return x
    low, high = sorted((facts["mark_hz"], facts["space_hz"]))
    hz = low - 400 if low > 1800 or (low > 800 and rng.random() < 0.5) else high + 400
    down, up = air.morse_keying(rng, len(t) / case.rate, 20)
    facts["neighbour_hz"] = hz
    loud = 10 ** (case.neighbour_db / 20)
    return x + loud * air.keyed_carrier(t, hz, rng.uniform(0, 2 * np.pi), down, up)


def make_without_text(case, seed, seconds):
    """Yields float32 chunks of a recording that holds no printing signal at all."""
    rng = generator(case, seed)
    density = air.noise_density(case.esn0_db, case.baud)
    if case.kind == "noise":
        source = interference.Nothing()
    else:
        source = interference.Band(rng, seconds)
    n, done, chunk = int(seconds * case.rate), 0, 60 * case.rate
    while done < n:
        m = min(chunk, n - done)
        t = (done + np.arange(m)) / case.rate
        x = air.white(rng, m, density, case.rate) + source.wave(t, case.rate, rng)
        yield x.astype(np.float32)
        done += m
