//! Sound that an input never gave, told by the clock.
//!
//! Sound comes in pieces and late, never early: by how much it is behind the clock at its most
//! punctual moments is what was on its way, and stays. Where that grows at once, or faster than
//! a clock of a sound card can be wrong, sound was lost before it got here.

use std::collections::VecDeque;

/// In so long there is a punctual moment, s: a sound server gives the monitor of an output in
/// pieces of 2 s at most (common practice), and a computer may be busy for some seconds.
const WHILE_S: f64 = 8.0;
/// Steps in which the most punctual moment of the latest while is kept, s.
const STEP_S: f64 = 0.25;
/// No clock of a sound card is so wrong (common practice: 100 millionths).
const CLOCK: f64 = 1000e-6;
/// Less than so much is not told, s: less than an element at 45.45 baud would be nothing to the
/// reader, and the scheduling of threads is no loss.
const LEAST_S: f64 = 0.1;

/// Follows by how much an input is behind the clock. Times are seconds since it was opened.
#[derive(Debug, Default)]
pub(super) struct Arrears {
    /// The least arrears of each step of the latest `WHILE_S`: when the step began, s, and by how much
    /// it was behind then, s.
    steps: VecDeque<(f64, f64)>,
    /// What it is behind by when nothing is lost, s, and when that was last so, s.
    usual: Option<(f64, f64)>,
}

impl Arrears {
    /// Takes what an input has given by `time_s`, in seconds of sound, what is known to be lost
    /// among it. Gives what else must have been lost, s.
    pub(super) fn lost(&mut self, time_s: f64, given_s: f64) -> Option<f64> {
        let behind_s = time_s - given_s;
        match self.steps.back_mut() {
            Some((begun_s, least_s)) if time_s < *begun_s + STEP_S => {
                *least_s = least_s.min(behind_s);
                return None;
            }
            _ => self.steps.push_back((time_s, behind_s)),
        }
        let first = self.steps.front().map_or(time_s, |step| step.0);
        if time_s < first + WHILE_S {
            return None;
        }
        let least_s = self.steps.iter().map(|s| s.1).fold(f64::MAX, f64::min);
        self.steps.pop_front();
        self.judge(time_s, least_s)
    }

    /// Compares the most punctual moment of the latest while with what is usual.
    fn judge(&mut self, time_s: f64, least_s: f64) -> Option<f64> {
        let (at_s, usual_s) = self.usual.unwrap_or((time_s, least_s));
        let may_s = usual_s + CLOCK * (time_s - at_s);
        let lost_s = least_s - may_s;
        self.usual = Some((time_s, least_s.min(may_s)));
        if lost_s <= LEAST_S {
            return None;
        }
        // From now on it counts as given.
        self.steps.iter_mut().for_each(|step| step.1 -= lost_s);
        Some(lost_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Looks each 4 ms at an input that gives pieces of `piece_s` late by what `late` says,
    /// for 60 s; its clock is fast by `clock`. `kept` says how much of a piece it gives.
    fn told(piece_s: f64, clock: f64, kept: impl Fn(f64) -> f64, late: impl Fn(f64) -> f64) -> f64 {
        let mut arrears = Arrears::default();
        let (mut given_s, mut next_s, mut lost_s) = (0.0, piece_s, 0.0);
        for look in 0..15_000 {
            let time_s = f64::from(look) * 0.004;
            while time_s >= next_s + late(next_s) {
                given_s += piece_s * kept(next_s) * (1.0 + clock);
                next_s += piece_s;
            }
            lost_s += arrears.lost(time_s, given_s + lost_s).unwrap_or(0.0);
        }
        lost_s
    }

    #[test]
    fn one_loss_is_told_once_and_by_its_length() {
        for lost in [0.25, 0.5, 0.75, 1.0] {
            let kept = |t: f64| {
                if (29.5..30.5).contains(&t) {
                    1.0 - lost
                } else {
                    1.0
                }
            };
            let found = told(1.0, 0.0, kept, |_| 0.0);
            assert!((found - lost).abs() < 0.05, "{found} of {lost}");
        }
    }

    #[test]
    fn an_input_that_gives_a_part_of_each_piece_only_is_told() {
        for (piece_s, part) in [(0.04, 0.8), (0.25, 0.9), (1.0, 0.95)] {
            let found = told(piece_s, 0.0, |_| part, |_| 0.0);
            let lost = 60.0 * (1.0 - part);
            // The first piece that is waited for, and the last, cannot be told.
            let most = (1.0 - part) * (2.0 * WHILE_S + 2.0 * piece_s) + LEAST_S + 60.0 * CLOCK;
            assert!(found <= lost && lost - found < most, "{found} of {lost}");
        }
    }

    proptest! {
        #[test]
        fn what_comes_late_or_by_a_wrong_clock_is_not_lost(
            piece_s in 0.005..2.0_f64,
            clock in -500e-6..500e-6_f64,
            busy_s in 0.0..1.5_f64,
        ) {
            // Busy for a while now and then: what came meanwhile is given afterwards.
            let late = |t: f64| if t % 10.0 < 2.0 { busy_s } else { 0.0 };
            prop_assert_eq!(told(piece_s, clock, |_| 1.0, late), 0.0);
        }
    }
}
