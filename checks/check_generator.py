"""The generator of this folder against closed formulas: it judges others, so it is
judged first. Every tolerance is stated beside its figure; random ones hold with
probability of about 1 - 1e-4 each, and all seeds are fixed.
"""

import numpy as np

import air
import formulas as f
import recording
from cases import Case
from demodulator import Matched, correlate, element_bits, element_errors
from sender import Transmitter, distort, key

BAUD = 1 / 0.022
RATE = 8000


def stream(rng, count, sender, shift=170.0, baud=BAUD, mark=2125.0):
    """(wave function, line, codes) of `count` random codes."""
    codes = rng.integers(0, 32, count)
    line = key(codes, baud, 1.5, 0.0, 0.5, 0.5)
    return Transmitter(line, mark, mark + shift, rng, sender), line, codes


def steady(report):
    """Element errors of envelope comparison in white noise, tones not quite orthogonal."""
    wide = ((170, BAUD, 4), (170, 100.0, 6), (450, 50.0, 6), (85, BAUD, 6))
    for sender, settings in (("random", wide[:2]), ("continuous", wide + ((170, BAUD, 8),)), ("two", wide[:2])):
        for shift, baud, db in settings:
            rng = np.random.default_rng([1, int(db), int(shift), int(baud)])
            tx, line, codes = stream(rng, 2500, sender, shift, baud)
            x = tx.wave(np.arange(int(line.end * RATE)) / RATE).real
            x += air.white(rng, len(x), air.noise_density(db, baud), RATE)
            z = correlate(x, RATE, 2125.0, 2125.0 + shift, line.element_begin, baud)
            errors, n = element_errors(*z, element_bits(codes))
            expected = f.noncoherent(f.ratio(db), abs(f.tone_correlation(shift, baud)))
            low, high = f.binomial_interval(errors, n)
            report.check(f"element errors, {sender} phase, {shift} Hz at {baud:.2f} baud, {db} dB", low <= expected <= high,
                         f"{errors}/{n} = {errors / n:.5f}, formula {expected:.5f}")  # fmt: skip


def known_phase(report):
    """Element errors with the sender's phase given (coherent formula), which also
    shows that the phase is continuous and where the sender says it is."""
    for db in (4, 7):
        rng = np.random.default_rng([2, db])
        tx, line, codes = stream(rng, 4000, "continuous")
        x = tx.wave(np.arange(int(line.end * RATE)) / RATE).real
        x += air.white(rng, len(x), air.noise_density(db, BAUD), RATE)
        mark, space = correlate(x, RATE, 2125.0, 2295.0, line.element_begin, BAUD)
        begin = line.begin[1:].reshape(-1, 7)
        phase = tx.phase[1:].reshape(-1, 7)
        m = (mark * np.exp(-1j * (phase - 2 * np.pi * 2125.0 * begin))).real
        s = (space * np.exp(-1j * (phase - 2 * np.pi * 2295.0 * begin))).real
        bits = element_bits(codes)
        errors = int(np.sum((m > s) != bits))
        expected = f.coherent(f.ratio(db), f.tone_correlation(170, BAUD).real)
        low, high = f.binomial_interval(errors, bits.size)
        report.check(f"element errors with known phase, {db} dB", low <= expected <= high,
                     f"{errors}/{bits.size} = {errors / bits.size:.5f}, formula {expected:.5f}")  # fmt: skip


def made_recordings(report):
    """Whole recordings of the cases: errors at the sidecar's times and tones, and the
    density of the noise before and after the signal."""
    for case, formula in (
        (Case("check", esn0_db=6, characters=(1500, 1500)), 6),
        (Case("check-high", esn0_db=8, mark_high=True, anywhere=True, characters=(1500, 1500)), 8),
        (Case("check-pace", esn0_db=7, pace="keyboard", characters=(1500, 1500)), 7),
        (Case("check-48k", esn0_db=6, rate=48000, characters=(700, 700)), 6),
        (Case("check-100", esn0_db=6, baud=100.0, characters=(1500, 1500)), 6),
    ):
        made = recording.make(case, 1)
        facts = made.facts
        z = correlate(made.samples, made.rate, facts["mark_hz"], facts["space_hz"], facts["start_s"], case.baud)
        errors, n = element_errors(*z, element_bits(made.codes))
        expected = f.noncoherent(f.ratio(formula), abs(f.tone_correlation(case.shift, case.baud)))
        low, high = f.binomial_interval(errors, n)
        report.check(f"recording {case.name}: element errors", low <= expected <= high, f"{errors}/{n} = {errors / n:.5f}, formula {expected:.5f}")
        quiet = np.concatenate((made.samples[: int(facts["on_s"] * made.rate)], made.samples[int(facts["off_s"] * made.rate) + 1 :]))
        density = np.mean(quiet**2) / (made.rate / 2)
        measured = 10 * np.log10(air.SIGNAL_POWER / case.baud / density)
        report.near(f"recording {case.name}: Es/N0 by the noise around it, dB", measured, formula, 4 * 4.343 * np.sqrt(2 / len(quiet)))


def drifting(report):
    """The moving dial: the frequency between neighbouring samples. A sample interval that
    spans a jump lies between the two frequencies."""
    moves = {
        "linear": (lambda t: air.linear_drift(t, 2.0), lambda t: 2.0 * t),
        "jumps": (lambda t: air.dial_jumps(t, 60.0, 30.0, True), lambda t: 60.0 * (np.floor(t / 30) % 2)),
        "jumps one way": (lambda t: air.dial_jumps(t, 60.0, 30.0, False), lambda t: 60.0 * np.floor(t / 30)),
        "warm-up": (lambda t: air.warm_up_drift(t, 300.0, 120.0), lambda t: 300.0 * np.exp(-t / 120)),
    }
    t = np.arange(150 * RATE) / RATE
    for name, (turns, frequency) in moves.items():
        off = np.abs(np.diff(turns(t)) * RATE - frequency((t[1:] + t[:-1]) / 2))
        most = 4 if "jumps" in name else 0
        report.check(f"dial movement, {name}: frequency", np.sum(off > 1e-3) <= most and np.max(off) <= 60.001, f"{np.sum(off > 1e-3)} samples off, at most {most}")


def fading(report):
    """Rayleigh statistics, autocorrelation and level crossings of one tap (F.1487, Rice)."""
    spread, rate = 1.0, 40.0
    rng = np.random.default_rng(3)
    tap = np.concatenate([air.fading_tap(rng, 100_000, rate, spread) for _ in range(10)])  # 25 000 s
    seconds = len(tap) / rate
    envelope = np.abs(tap)
    # One independent value about each 1/(sqrt(pi) B) s.
    independent = seconds * spread * np.sqrt(np.pi)
    report.near("tap: mean power", np.mean(envelope**2), 1.0, 4 / np.sqrt(independent))
    for lag in (0.25, 0.375, 0.45, 0.6):
        k = int(round(lag * rate))
        measured = np.mean(tap[k:] * np.conj(tap[:-k])).real / np.mean(envelope**2)
        report.near(f"tap: autocorrelation at {k / rate:g} / B", measured, f.tap_autocorrelation(k / rate, spread), 4 / np.sqrt(independent))
    for db in (0, -10, -20):
        rho = 10 ** (db / 20)
        crossings = np.sum((envelope[1:] >= rho) & (envelope[:-1] < rho)) / seconds
        expected = f.upward_crossings(rho, spread)
        report.near(f"tap: upward crossings of {db} dB a second", crossings, expected, 5 * np.sqrt(expected / seconds))
        report.near(f"tap: share of time below {db} dB", np.mean(envelope < rho), f.below(rho), 5 * np.sqrt(f.below(rho) / independent))


def two_paths(report):
    """Correlation of the fading of two tones, and total power, through the very channel used."""
    for delay, spread in ((1.0, 0.5), (2.0, 1.0)):
        rng = np.random.default_rng(4)
        rate, n, parts = 20.0, 100_000, 3
        low, high = [], []
        for _ in range(parts):
            t = np.arange(n) / rate
            state = rng.bit_generator.state
            low.append(air.two_path(rng, lambda u: np.exp(2j * np.pi * 2125.0 * u), t, rate, delay, spread) * np.exp(-2j * np.pi * 2125.0 * t))
            rng.bit_generator.state = state
            high.append(air.two_path(rng, lambda u: np.exp(2j * np.pi * 2295.0 * u), t, rate, delay, spread) * np.exp(-2j * np.pi * 2295.0 * t))
        low, high = np.concatenate(low), np.concatenate(high)
        independent = len(low) / rate * spread * np.sqrt(np.pi)
        power = np.mean(np.abs(low) ** 2)
        together = abs(np.mean(low * np.conj(high))) / np.sqrt(power * np.mean(np.abs(high) ** 2))
        report.near(f"{delay:g} ms: mean power", power, 1.0, 4 / np.sqrt(independent))
        expected = f.tone_fading_correlation(170.0, delay * 1e-3)
        report.near(f"{delay:g} ms: correlation of fading of tones 170 Hz apart", together, expected, 4 * (1 - expected**2) / np.sqrt(independent) + 0.005)


def flat_fading_errors(report):
    """Element errors in slow flat Rayleigh fading: 1 / (2 + mean Es/N0)."""
    rate, spread = 1600, 1.0
    for db in (10, 15):
        rng = np.random.default_rng([5, db])
        blocks = []
        for _ in range(8):
            codes = rng.integers(0, 32, 1500)
            line = key(codes, BAUD, 1.5, 0.0, 0.2, 0.2)
            tx = Transmitter(line, 500.0, 670.0, rng)
            t = np.arange(int(line.end * rate)) / rate
            x = air.two_path(rng, tx.wave, t, rate, 0.0, spread).real
            x += air.white(rng, len(x), air.noise_density(db, BAUD), rate)
            m, s = correlate(x, rate, 500.0, 670.0, line.element_begin, BAUD)
            wrong = (np.abs(m) > np.abs(s)) != element_bits(codes)
            blocks += [part.mean() for part in np.array_split(wrong, 10)]
        mean, error = np.mean(blocks), np.std(blocks) / np.sqrt(len(blocks))
        report.near(f"element errors, flat Rayleigh, {db} dB", mean, f.rayleigh(f.ratio(db)), 4 * error)


def static(report):
    """Level, number and length of the crashes."""
    rng = np.random.default_rng(6)
    for regular in (False, True):
        x, log = air.crashes(rng, 600 * RATE, RATE, 2.0, regular=regular)
        report.near(f"crashes in 600 s, regular {regular}", len(log), 1200, 0.5 if regular else 4 * np.sqrt(1200))
        lengths = np.array([length for _, length in log])
        report.near("crash length, mean ms", 1000 * np.mean(lengths), 32.5, 4 * 55 / np.sqrt(12 * len(log)))
        # Where two overlap their powers add, so energy over the sum of lengths.
        power = np.sum(x**2) / (RATE * np.sum(lengths))
        report.near("crash power over the signal, dB", 10 * np.log10(power / air.SIGNAL_POWER), 25.0, 4 * 4.343 * np.sqrt(2 / np.sum(x != 0)) + 0.03)


def noise(report):
    """White, Gaussian and of the density asked for."""
    rng = np.random.default_rng(7)
    x = air.white(rng, 1 << 20, 0.01, RATE)
    spectrum = np.mean(np.abs(np.fft.rfft(x.reshape(-1, 512), axis=1)[:, 1:-1]) ** 2, axis=0) * 2 / (512 * RATE)
    worst = np.max(np.abs(spectrum / 0.01 - 1))
    report.check("noise: density in each of 255 bands", worst < 5.5 / np.sqrt(len(x) / 512), f"worst off by {worst:.4f}")
    report.near("noise: fourth moment over squared second", np.mean(x**4) / np.mean(x**2) ** 2, 3.0, 4 * np.sqrt(24 / len(x)))


def keying(report):
    """Jitter rms, bias and the time a mark run lasts."""
    rng = np.random.default_rng(8)
    line = key(rng.integers(0, 32, 4000), BAUD, 1.5, 0.0, 1.0, 1.0)
    change = np.flatnonzero(line.mark[1:] != line.mark[:-1]) + 1
    moved = (distort(line, rng, 0.022, jitter_ms=1.0).begin - line.begin)[change] * 1000
    report.near("jitter rms, ms", np.std(moved), 1.0, 4 / np.sqrt(2 * len(moved)))
    biased = distort(line, rng, 0.022, bias=0.2)
    longer = (biased.begin - line.begin)[change]
    to_space = ~line.mark[change]
    report.check("bias lengthens marks by 20 % of a unit", np.allclose(longer[to_space], 0.0022) and np.allclose(longer[~to_space], -0.0022))


def gain(report):
    """AGC time constants on steps of a tone, read from output over input."""
    t = np.arange(4 * RATE) / RATE
    x = np.cos(2 * np.pi * 1000 * t + 0.1) * np.where((t > 1) & (t < 2), 10.0, 1.0)
    level = x / air.agc(x, RATE)
    rise = level[(t > 1) & (t < 1.2)]
    report.near("AGC attack, ms", 1000 * np.argmax(rise > 1 + 9 * (1 - np.exp(-1))) / RATE, 2.0, 0.8)
    first, later = level[int(2.1 * RATE)] - 1, level[int(2.6 * RATE)] - 1
    report.near("AGC decay, s", 0.5 / np.log(first / later), 0.5, 0.01)


def neighbour(report):
    """Strength and place of the keyed carrier, without AGC or noise."""
    made = recording.make(Case("check-neighbour", neighbour_db=25.0), 1)
    low, high = sorted((made.facts["mark_hz"], made.facts["space_hz"]))
    hz = made.facts["neighbour_hz"]
    report.check("neighbour 400 Hz from the nearer tone", min(abs(hz - low), abs(hz - high)) == 400 and not low < hz < high, f"{hz:.1f} Hz")
    at = np.arange(3, len(made.samples) / RATE - 1, 0.02)
    strength = np.abs(Matched(made.samples, RATE, hz).over(at, at + 0.02))
    report.near("neighbour while keyed, dB over the signal", 20 * np.log10(np.percentile(strength, 98)), 25.0, 0.5)


def formula_values(report):
    """The formulas themselves against worked values (references 5.21, 5.23)."""
    for a, b, q in ((0, 1, 0.606531), (1, 1, 0.732880), (2, 1, 0.918108), (3, 4, 0.196512), (5, 5, 0.540098)):
        report.near(f"Marcum Q1({a},{b})", f.marcum_q1(a, b), q, 1e-6)
    for r, p in ((0.0, 3.369e-3), (0.1, 3.671e-3), (0.25, 5.490e-3), (0.5, 1.631e-2)):
        report.near(f"non-coherent at 10 dB, tone correlation {r}", f.noncoherent(10.0, r), p, 1e-6 + 5e-4 * p)


def checks(report):
    """All of the above."""
    for part in (formula_values, steady, known_phase, made_recordings, drifting, fading, two_paths, flat_fading_errors, static, noise, keying, gain, neighbour):
        part(report)
