//! Stops: how long this sender's stop elements are, learned from the gaps between its
//! characters.
//!
//! A sender that runs from a tape or a buffer has stops of one length; knowing it ties the
//! starts together and saves most of the characters that framing loses in noise. Somebody
//! typing has gaps of all lengths, and then nothing is learned but that.

use crate::characters::framing::LinePriors;
use crate::characters::reading::Reading;

/// Weight of what is believed of an unknown sender, in characters.
const UNKNOWN_WEIGHT: f32 = 4.0;
/// Share of gaps of an unknown sender that are longer than two units.
const UNKNOWN_PAUSED: f32 = 0.35;
/// Characters after which what was learned counts by 1/e: half a minute at speed.
const MEMORY: f32 = 150.0;
/// Least standard deviation of a gap's measure, grid points: the grid itself.
const LEAST_SPREAD: f64 = 0.5;
/// Share of stops that are as an unknown sender's, whatever was learned.
const OPEN: f32 = 0.03;

/// Probability that a signal ends at a grid point at mark: once in some hundred
/// characters. With stops known, characters of noise come cheap, and without this they
/// would go on after a signal's end.
const OFF: f32 = 1e-4;

/// A gap that is longer than usual by no more than this, elements, is no pause: some characters.
const LONGEST_GAP: f64 = 60.0;
/// What gaps may scatter, standard deviations.
const SCATTERS: f64 = 3.0;

/// Learns the length of the stop element.
#[derive(Clone, Debug)]
pub struct StopLearner {
    // configured
    steps: usize,
    // derived
    unknown: Vec<f32>,
    // state
    /// Weight of stops of `1 + d/steps` units.
    stops: Vec<f32>,
    paused: f32,
}

impl StopLearner {
    /// Knows nothing yet; `steps` grid points to the element.
    pub fn new(steps: usize) -> Self {
        let unknown = LinePriors::unknown_stops(steps);
        Self {
            steps,
            stops: vec![0.0; unknown.len()],
            unknown,
            paused: 0.0,
        }
    }

    /// Takes the gap between two characters that follow each other.
    pub fn learn(&mut self, before: &Reading, after: &Reading) {
        let keep = (-1.0 / MEMORY).exp();
        self.stops.iter_mut().for_each(|s| *s *= keep);
        self.paused *= keep;
        let gap = after.start - before.start - 7.0 * self.steps as f64;
        let weight = before.present * after.present;
        if gap >= 2.0 * self.steps as f64 {
            self.paused += weight;
            return;
        }
        let variance = before.spread.powi(2) + after.spread.powi(2) + LEAST_SPREAD.powi(2);
        let bell = |d: usize| (-(d as f64 - gap).powi(2) / (2.0 * variance)).exp() as f32;
        let bells: Vec<f32> = (0..self.stops.len()).map(bell).collect();
        let total: f32 = bells.iter().sum::<f32>().max(f32::MIN_POSITIVE);
        for (stop, b) in self.stops.iter_mut().zip(bells) {
            *stop += weight * b / total;
        }
    }

    /// The one length, units, that most characters' stop elements have; `None` while too few
    /// followed each other at one pace.
    pub fn units(&self) -> Option<f64> {
        const LEAST: f32 = 12.0;
        let heard: f32 = self.stops.iter().sum();
        let top = self.top();
        let near = top.saturating_sub(2)..(top + 3).min(self.stops.len());
        let weight: f32 = self.stops[near.clone()].iter().sum();
        let mean = near
            .map(|d| d as f64 * f64::from(self.stops[d]))
            .sum::<f64>()
            / f64::from(weight);
        (weight > LEAST && weight > 0.6 * (heard + self.paused))
            .then_some(1.0 + mean / self.steps as f64)
    }

    /// By how much the gap between two characters that follow each other differs from the one
    /// that all others have, elements, beyond what they scatter; 0 while there is no such one, and
    /// for a pause. What differs lies on either side of a place where sound was lost, or a
    /// character.
    pub fn misplaced(&self, before: &Reading, after: &Reading) -> f32 {
        let Some(units) = self.units() else {
            return 0.0;
        };
        let steps = self.steps as f64;
        let gap = (after.start - before.start) / steps - 6.0;
        if gap > units + LONGEST_GAP {
            return 0.0;
        }
        let spread = (before.spread.powi(2) + after.spread.powi(2)).sqrt() / steps;
        let scatter = self.scatter().hypot(spread);
        ((gap - units).abs() - SCATTERS * scatter).max(0.0) as f32
    }

    /// Standard deviation of the stops about the length that most have, elements.
    fn scatter(&self) -> f64 {
        let top = self.top();
        let near = top.saturating_sub(self.steps / 2)..(top + self.steps / 2).min(self.stops.len());
        let sum = |of: &dyn Fn(f64) -> f64| -> f64 {
            let each = near
                .clone()
                .map(|d| f64::from(self.stops[d]) * of(d as f64));
            each.sum()
        };
        let weight = sum(&|_| 1.0).max(f64::MIN_POSITIVE);
        let mean = sum(&|d| d) / weight;
        (sum(&|d| (d - mean).powi(2)) / weight).sqrt() / self.steps as f64
    }

    /// The place of the length that most stops have.
    fn top(&self) -> usize {
        (0..self.stops.len()).fold(0, |a, b| if self.stops[b] > self.stops[a] { b } else { a })
    }

    /// What may be expected of the line now.
    pub fn priors(&self) -> LinePriors {
        let learned: f32 = self.stops.iter().sum();
        let all = learned + self.paused;
        let shares: Vec<f32> = self
            .stops
            .iter()
            .zip(&self.unknown)
            .map(|(s, u)| s + u * (UNKNOWN_WEIGHT * (1.0 - UNKNOWN_PAUSED) + OPEN * all))
            .collect();
        let paused = (self.paused + UNKNOWN_WEIGHT * UNKNOWN_PAUSED + OPEN * all)
            / (all + UNKNOWN_WEIGHT + OPEN * all);
        LinePriors {
            off: OFF.ln(),
            ..LinePriors::from_stops(&shares, self.steps, paused.clamp(0.01, 0.95))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(start: f64) -> Reading {
        Reading {
            start,
            spread: 0.7,
            present: 1.0,
            codes: [1.0 / 32.0; 32],
        }
    }

    /// Probability that the next start comes within `near` of `gap` grid points.
    fn share(priors: &LinePriors, gap: usize, near: usize, steps: usize) -> f32 {
        let at = |g: usize| match g / steps {
            0 => priors.next[0][g],
            _ => priors.stay[0].exp() * priors.next[1][g - steps],
        };
        (gap - near..=gap + near).map(at).sum()
    }

    #[test]
    fn learns_one_length_from_a_machine() {
        for (steps, units) in [(16, 1.5), (16, 1.42), (8, 2.0 - 0.125), (16, 1.25)] {
            let mut learner = StopLearner::new(steps);
            let gap = (units - 1.0) * steps as f64;
            let before = share(&learner.priors(), gap.round() as usize, 1, steps);
            for i in 0..40 {
                let start = 7.3 + f64::from(i) * (7.0 * steps as f64 + gap);
                learner.learn(&reading(start), &reading(start + 7.0 * steps as f64 + gap));
            }
            let after = share(&learner.priors(), gap.round() as usize, 1, steps);
            assert!(before < 0.4 && after > 0.7, "{units}: {before} to {after}");
        }
    }

    #[test]
    fn learns_from_a_typist_that_pauses_are_usual() {
        let mut learner = StopLearner::new(16);
        let unknown = learner.priors();
        for i in 0..40 {
            let start = f64::from(i) * 300.0;
            learner.learn(&reading(start), &reading(start + 250.0));
        }
        let learned = learner.priors();
        let pause = |p: &LinePriors| (p.stay[0] + p.stay[1]).exp();
        assert!(pause(&learned) > 0.8, "{}", pause(&learned));
        assert!(pause(&unknown) < 0.4, "{}", pause(&unknown));
    }

    #[test]
    fn what_lies_beside_a_seam_is_misplaced() {
        let steps = 16.0;
        let mut learner = StopLearner::new(16);
        let misplaced = |learner: &StopLearner, units: f64| {
            learner.misplaced(&reading(0.0), &reading((6.0 + units) * steps))
        };
        assert_eq!(misplaced(&learner, 3.1), 0.0, "nothing is known yet");
        for _ in 0..40 {
            learner.learn(&reading(0.0), &reading(7.5 * steps));
        }
        for (units, seam) in [
            (1.5, false),
            (1.6, false),
            (0.9, true),
            (2.3, true),
            (9.0, true),
        ] {
            let found = misplaced(&learner, units) > 0.25;
            assert_eq!(found, seam, "{units}: {}", misplaced(&learner, units));
        }
        assert_eq!(misplaced(&learner, 100.0), 0.0, "a pause");
        for k in 0..200 {
            learner.learn(&reading(0.0), &reading((10.0 + f64::from(k % 9)) * steps));
        }
        assert_eq!(misplaced(&learner, 3.1), 0.0, "somebody typing");
    }

    #[test]
    fn forgets_a_machine_when_another_follows() {
        let mut learner = StopLearner::new(16);
        for (gap, count) in [(8.0, 200), (12.0, 400)] {
            for _ in 0..count {
                learner.learn(&reading(0.0), &reading(7.0 * 16.0 + gap));
            }
        }
        let priors = learner.priors();
        assert!(share(&priors, 12, 1, 16) > 5.0 * share(&priors, 8, 1, 16));
    }
}
