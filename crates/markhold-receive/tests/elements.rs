//! Elements against the likelihoods they stand for.
//!
//! A tone of power `P` in complex noise of power `N` has an envelope `x` with the density
//! `2x/N exp(-(x² + P)/N) I0(2 x sqrt(P)/N)` (S. O. Rice, "Mathematical Analysis of Random
//! Noise", Bell System Technical Journal 24, 1945, eq. 3.10-11); noise alone the same with
//! `P = 0`, which is Rayleigh's. Here both are computed in f64 with the power series of
//! `I0` (Abramowitz & Stegun, Handbook of Mathematical Functions, 9.6.12).

use markhold_receive::elements::{Elements, ToneOnGrid};
use markhold_signal::{Complex32, bessel::LnI0};

const STEPS: usize = 16;
const POINTS: usize = 64;

fn i0(x: f64) -> f64 {
    let q = x * x / 4.0;
    let next = |(sum, term): (f64, f64), k: u32| {
        let term = term * q / f64::from(k * k);
        (sum + term, term)
    };
    (1..300).fold((1.0, 1.0), next).0
}

/// Density of an envelope.
fn rice(x: f64, power: f64, noise: f64) -> f64 {
    2.0 * x / noise * (-(x * x + power) / noise).exp() * i0(2.0 * x * power.sqrt() / noise)
}

/// A tone that turns with a constant phase, so that every element has the envelope `x`.
fn steady(x: f32, power: f32, noise: f32) -> ToneOnGrid {
    let turned = Complex32::from_polar(x / STEPS as f32, 0.7);
    ToneOnGrid {
        sums: (0..=POINTS).map(|i| turned * i as f32).collect(),
        power: vec![power; POINTS + 1],
        noise: vec![noise; POINTS + 1],
    }
}

fn clear(share: f32) -> Vec<f32> {
    let step = share / STEPS as f32;
    (0..=POINTS).map(|i| step * i as f32).collect()
}

fn weigh(mark: &ToneOnGrid, space: &ToneOnGrid, clear: &[f32]) -> Elements {
    Elements::weigh(STEPS, POINTS, mark, space, clear, &LnI0::default())
}

#[test]
fn whole_elements_are_rice_over_rayleigh() {
    for (power, noise) in [(1.0, 1.0), (9.0, 1.0), (0.3, 0.02), (40.0, 2.0), (0.1, 1.0)] {
        for k in 1..40 {
            let x = 0.1 * f64::from(k) * f64::sqrt(power);
            let tone = steady(x as f32, power as f32, noise as f32);
            let elements = weigh(&tone, &tone, &clear(1.0));
            // As strong as expected, or fallen to 0.4 or 0.16 of the amplitude, whichever
            // explains it best, at log probabilities of 0, -2.5 and -4.
            let expected = [(1.0, 0.0), (0.4, -2.5), (0.16, -4.0f64)]
                .map(|(a, ln)| (rice(x, a * a * power, noise) / rice(x, 0.0, noise)).ln() + ln)
                .into_iter()
                .fold(f64::NEG_INFINITY, f64::max);
            let allowed = 2e-3 + 1e-5 * expected.abs();
            for i in [0, 5, POINTS - STEPS] {
                for got in [elements.mark[i], elements.space[i]] {
                    let error = (f64::from(got) - expected).abs();
                    assert!(
                        error < allowed,
                        "P {power} N {noise} x {x}: {got}, {expected}"
                    );
                }
            }
        }
    }
}

/// Beyond an energy of 40 noise densities the noise counts as a fortieth of the power.
#[test]
fn certainty_is_bounded() {
    let (power, x) = (4.0, 2.0);
    let at = |noise| {
        weigh(
            &steady(x, power, noise),
            &steady(0.0, 1.0, 1.0),
            &clear(1.0),
        )
        .mark[0]
    };
    let expected = rice(2.0, 4.0, 0.1) / rice(2.0, 0.0, 0.1);
    for noise in [0.1, 0.01, 1e-6, 0.0] {
        assert!(
            (f64::from(at(noise)) - expected.ln()).abs() < 2e-3,
            "{noise}"
        );
    }
    assert!(at(0.2) < at(0.1));
}

#[test]
fn more_envelope_is_more_tone() {
    let empty = steady(0.0, 1.0, 1.0);
    let mut before = f32::NEG_INFINITY;
    for k in 0..200 {
        let mark = weigh(&steady(0.05 * k as f32, 4.0, 0.5), &empty, &clear(1.0)).mark[0];
        assert!(
            mark >= before,
            "envelope {}: {mark} after {before}",
            0.05 * k as f32
        );
        // Fallen to 0.16 of the amplitude: -4 less 0.0256 of the energy of 8.
        assert!(mark >= -4.21, "{mark}");
        before = mark;
    }
    assert!(before > 20.0, "{before}");
}

/// A remainder of `r` steps is the whole element of a line `steps / r` times as fast: the
/// same sums, and `r / steps` of the energy.
#[test]
fn remainders_are_elements_of_their_length() {
    let (power, noise) = (6.0f64, 0.5f64);
    for x in [0.0, 0.5, 2.0, 3.0] {
        let tone = steady(x, power as f32, noise as f32);
        let elements = weigh(&tone, &tone, &clear(1.0));
        for r in 1..STEPS {
            let share = r as f64 / STEPS as f64;
            let envelope = f64::from(x) * share;
            let slope = 2.0 * power.sqrt() / noise;
            let energy = power / noise * share;
            let expected = (i0(slope * envelope).ln() - energy).max(-3.5);
            let got = elements.part[3 * STEPS + r];
            assert!(
                (f64::from(got) - expected).abs() < 2e-3,
                "r {r}: {got}, {expected}"
            );
        }
    }
}

/// Without its ends an element is a remainder, but for how it may have fallen.
#[test]
fn middles_are_shorter_elements() {
    let tone = steady(2.0, 6.0, 0.5);
    let (clear, ln_i0) = (clear(1.0), LnI0::default());
    let whole = weigh(&tone, &tone, &clear);
    for trim in 1..6 {
        let steps = (STEPS, trim);
        let middles = Elements::weigh_middles(steps, POINTS, [&tone, &tone], &clear, &ln_i0);
        let expected = whole.part[3 * STEPS + STEPS - 2 * trim];
        for got in [middles.mark[3], middles.space[3]] {
            assert!((got - expected).abs() < 2e-3, "{trim}: {got}, {expected}");
        }
        assert_eq!(middles.part, whole.part);
    }
}

/// Where the window ends, stretches hold what is there: whole elements become remainders.
#[test]
fn stretches_past_the_end_count_what_is_there() {
    let tone = steady(2.0, 6.0, 0.5);
    let elements = weigh(&tone, &tone, &clear(1.0));
    for left in 1..STEPS {
        let i = POINTS - left;
        assert_eq!(
            elements.mark[i],
            elements.part[i * STEPS + left],
            "{left} steps left"
        );
        for r in left..STEPS {
            assert_eq!(
                elements.part[i * STEPS + r],
                elements.mark[i],
                "{r} of {left} steps"
            );
        }
    }
}

/// Blanked sound adds nothing to the sums and takes nothing from the likelihood.
#[test]
fn what_was_blanked_says_nothing() {
    let silent = steady(0.0, 6.0, 0.5);
    let elements = weigh(&silent, &silent, &vec![3.0; POINTS + 1]);
    let all = elements
        .mark
        .iter()
        .chain(&elements.space)
        .chain(&elements.part);
    assert!(all.copied().all(|v| v == 0.0));
}
