//! Motion: how the gains of both tones change from element to element.
//!
//! A gain glides as a Gaussian process with the covariance
//!
//! ```text
//!   E[h(t) h*(t + d)] = (1 + r d) exp(-r d)          d in elements, r the rate
//! ```
//!
//! (Matern, order 3/2; C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine
//! Learning, 2006, equation 4.17.) It is the smoothest that two numbers carry on exactly: the
//! gain `h` and its slope over the rate, `u`, which are independent and as great as each
//! other. Over `d` elements both move by
//!
//! ```text
//!   F = exp(-r d) | 1 + r d    r d   |        and gain the covariance 1 - F F'
//!                 |  - r d   1 - r d |
//! ```
//!
//! Backward in time the slope has the other sign and the same `F` holds. A gain that has
//! a slope is foretold through a notch; one that only forgets is not.
//!
//! What the sender does to the phases stands in [`super::super::model`].

use std::f32::consts::TAU;

use markhold_signal::Complex32;

use crate::senders::model::Tuning;
use crate::senders::sound::SPACE;

/// How fast gains glide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fading {
    /// Standard deviation of the slope, as a share of the gain's, per element.
    pub rate: f32,
    /// Standard deviation of the phase of the tone to come at every transition, radians:
    /// transitions that come early or late.
    pub kick: f32,
    /// Standard deviation of space's phase where an idle line ends, radians: starts that
    /// are known no better.
    pub start: f32,
}

/// A step of both gains, the same for every path.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// By what each tone turns.
    pub turn: [Complex32; 2],
    /// What of gain and slope goes into gain and slope.
    pub keep: [[f32; 2]; 2],
    /// Covariance that is added: of the gain, of both, of the slope.
    pub stray: [f32; 3],
    /// How much of space's gain is left by a phase that is not known well, at its mean.
    pub sure: f32,
}

/// What happens to both gains where the line changes to a tone.
#[derive(Clone, Copy, Debug)]
pub struct Change {
    /// By what each tone turns.
    pub turns: [Complex32; 2],
    /// How much of the gain of the tone that is sent from there on is left by a phase that
    /// is not known well, at its mean.
    pub sure: f32,
}

impl Change {
    /// The same backward in time.
    pub fn back(self) -> Self {
        let turns = self.turns.map(|t| t.conj());
        Self { turns, ..self }
    }
}

/// Least variance that is added: a gain never stands quite still.
const LEAST_STRAY: f64 = 1e-9;

impl Fading {
    /// The step over `span` elements of a tone.
    pub fn step(&self, tuning: &Tuning, tone: usize, span: f64) -> Step {
        let cycles = tuning
            .moving_hz(tone)
            .map(|hz| hz * span * tuning.element_s);
        let r = f64::from(self.rate) * span;
        let e = (-r).exp();
        let keep = [[e * (1.0 + r), e * r], [-e * r, e * (1.0 - r)]];
        let product = |i: usize, j: usize| keep[i][0] * keep[j][0] + keep[i][1] * keep[j][1];
        let stray = [
            (1.0 - product(0, 0)).max(LEAST_STRAY),
            -product(0, 1),
            (1.0 - product(1, 1)).max(LEAST_STRAY),
        ];
        Step {
            turn: cycles.map(|c| Complex32::from_polar(1.0, c.rem_euclid(1.0) as f32 * TAU)),
            keep: keep.map(|row| row.map(|x| x as f32)),
            stray: stray.map(|x| x as f32),
            sure: 1.0,
        }
    }

    /// What happens where the line changes to each tone: that tone turns on by what a bias
    /// took from it, and is known only as well as transitions are. `None` if nothing does.
    pub fn changes(&self, tuning: &Tuning) -> Option<[Change; 2]> {
        let turn = Complex32::from_polar(1.0, tuning.bias_turn() as f32);
        let still = Complex32::new(1.0, 0.0);
        let sure = (-0.5 * self.kick * self.kick).exp();
        let change = |turns| Change { turns, sure };
        (tuning.bias != 0.0 || self.kick > 0.0)
            .then_some([change([turn, still]), change([still, turn])])
    }

    /// The step with which a character begins.
    pub fn begin(&self, step: Step) -> Step {
        let sure = (-0.5 * self.start * self.start).exp();
        Step { sure, ..step }
    }
}

impl Step {
    /// The same step backward in time, for slopes with the other sign.
    pub fn back(self) -> Self {
        let turn = self.turn.map(|t| t.conj());
        Self { turn, ..self }
    }

    /// The tone whose phase a start that is not known well leaves open.
    pub const OPEN: usize = SPACE;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::senders::sound::MARK;
    use crate::senders::testing;

    const TUNING: Tuning = Tuning {
        offset_hz: [1.0, -1.0],
        ..testing::TUNING
    };

    fn fading(rate: f32) -> Fading {
        Fading {
            rate,
            kick: 0.0,
            start: 0.4,
        }
    }

    /// Correlation of the gain over `count` steps of `span` elements.
    fn correlation(rate: f32, span: f64, count: usize) -> f32 {
        let step = fading(rate).step(&TUNING, MARK, span);
        let mut state = [1.0f32, 0.0];
        for _ in 0..count {
            state = step.keep.map(|row| row[0] * state[0] + row[1] * state[1]);
        }
        state[0]
    }

    #[test]
    fn gains_correlate_as_the_formula_says_however_the_time_is_cut() {
        for rate in [0.02f32, 0.12, 0.4] {
            for (span, count) in [(1.0, 12), (0.5, 24), (3.0, 4), (12.0, 1)] {
                let d = rate * 12.0;
                let expected = (1.0 + d) * (-d).exp();
                let got = correlation(rate, span, count);
                assert!((got - expected).abs() < 1e-4, "{rate} {span}: {got}");
            }
        }
    }

    #[test]
    fn what_is_lost_is_added_again() {
        for rate in [0.001, 0.05, 1.0] {
            let step = fading(rate).step(&TUNING, SPACE, 1.0);
            for (i, j, k) in [(0, 0, 0), (0, 1, 1), (1, 1, 2)] {
                let [a, b] = [step.keep[i], step.keep[j]];
                let kept = a[0] * b[0] + a[1] * b[1] + step.stray[k];
                let expected = if i == j { 1.0 } else { 0.0 };
                assert!((kept - expected).abs() < 1e-6, "{rate}: {kept}");
            }
        }
    }

    #[test]
    fn tones_turn_as_the_sender_model_says() {
        let turns = |tone| fading(0.1).step(&TUNING, tone, 1.0).turn;
        let hz = |t: Complex32| f64::from(t.arg() / TAU) / TUNING.element_s;
        let apart = |a: f64, b: f64| ((a - b) * TUNING.element_s + 0.5).rem_euclid(1.0) - 0.5;
        let expected = [[1.0, 171.0], [-171.0, -1.0]];
        for tone in [MARK, SPACE] {
            for (turn, expected) in turns(tone).iter().zip(expected[tone]) {
                assert!(apart(hz(*turn), expected).abs() < 1e-5, "{}", hz(*turn));
            }
        }
    }
}
