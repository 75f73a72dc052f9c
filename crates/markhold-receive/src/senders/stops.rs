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
        let top =
            (0..self.stops.len()).fold(0, |a, b| if self.stops[b] > self.stops[a] { b } else { a });
        let near = top.saturating_sub(2)..(top + 3).min(self.stops.len());
        let weight: f32 = self.stops[near.clone()].iter().sum();
        let mean = near
            .map(|d| d as f64 * f64::from(self.stops[d]))
            .sum::<f64>()
            / f64::from(weight);
        (weight > LEAST && weight > 0.6 * (heard + self.paused))
            .then_some(1.0 + mean / self.steps as f64)
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
