//! Stops: a sender has one length of stop element, which nobody knows beforehand.
//!
//! Priors of an unknown sender that are asked anew for every character cost the sender with
//! a stop of one unit 2.4 nats each, more than framing wins over elements in any order. So the
//! length is a part of the sender, and paid for once: the evidence is the mixture of that of
//! senders who each keep to a length, and of one who does not.

use markhold_code::usual;

use crate::characters::framing::{Carry, LinePriors, evidence_of};
use crate::characters::log_sum::sum;
use crate::elements::Elements;

/// Share of the stops of a sender who keeps to a length that have it, to one grid point.
const KEPT: f32 = 0.9;
/// Share of its characters that are followed by a longer pause.
const PAUSED: f32 = 0.1;
/// Prior probability of a sender who keeps to no length.
const FREE: f32 = 0.4;
/// A sender who keeps to a length gains at most so much for every character: evidence that
/// lies farther down than that cannot come up.
const MOST_GAIN: f32 = 2.4;

/// Senders of all kinds of stop.
pub struct Stops {
    /// Log prior probability of each, and how it sends; the free one first.
    kinds: Vec<(f32, LinePriors)>,
}

impl Stops {
    /// For `steps` grid points to the element.
    pub fn new(steps: usize) -> Self {
        let lengths = usual::STOP_UNITS.map(|units| kept(units, steps));
        let each = (1.0 - FREE) / lengths.len() as f32;
        let kept = lengths.map(|stops| (each.ln(), LinePriors::from_stops(&stops, steps, PAUSED)));
        let free = (FREE.ln(), LinePriors::unknown(steps));
        Self {
            kinds: [free].into_iter().chain(kept).collect(),
        }
    }

    /// Evidence of a sender who keeps to no length.
    pub fn free(&self, elements: &Elements) -> f32 {
        evidence_of(elements, &self.kinds[0].1, &Carry::nothing())
    }

    /// Evidence of all, given that of [`Stops::free`], and which of them has most.
    pub fn all(&self, elements: &Elements, free: f32) -> (f32, usize) {
        let kept = self.kinds[1..].iter();
        let others = kept.map(|(ln, priors)| ln + evidence_of(elements, priors, &Carry::nothing()));
        let terms: Vec<f32> = [self.kinds[0].0 + free].into_iter().chain(others).collect();
        let best = (0..terms.len()).fold(0, |b, k| if terms[k] > terms[b] { k } else { b });
        (sum(&terms), best)
    }

    /// Evidence of one kind alone, as its part of [`Stops::all`].
    pub fn one(&self, elements: &Elements, kind: usize) -> f32 {
        let (ln, priors) = &self.kinds[kind];
        ln + evidence_of(elements, priors, &Carry::nothing())
    }

    /// How a kind sends.
    pub fn priors(&self, kind: usize) -> &LinePriors {
        &self.kinds[kind].1
    }

    /// Most that [`Stops::all`] can be above [`Stops::free`] in so many elements.
    pub fn most_gain(elements: f32) -> f32 {
        MOST_GAIN * elements / 7.0
    }
}

/// Shares of stops of `1 + d/steps` units of a sender who keeps to `units`.
fn kept(units: f64, steps: usize) -> Vec<f32> {
    let place = (units - 1.0) * steps as f64;
    let bell = |d: usize| (-0.7 * (d as f64 - place).powi(2)).exp() as f32;
    let total: f32 = (0..2 * steps).map(bell).sum();
    let even = (1.0 - KEPT) / (2 * steps) as f32;
    (0..2 * steps)
        .map(|d| KEPT * bell(d) / total + even)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::Random;
    use crate::search::rivals::rivals;

    const STEPS: usize = 8;
    /// As many as 8 s hold at 45.45 baud with stops of one unit.
    const CHARACTERS: usize = 52;

    /// Elements of a line of random characters with stops of so many units, each worth
    /// `worth`: whole ones by the share of them at mark.
    fn elements(stop_units: f64, worth: f32, seed: u64) -> Elements {
        let mut random = Random::new(seed);
        let mut line = vec![true; 3 * STEPS];
        let mut place = 0.0;
        for _ in 0..CHARACTERS {
            let data: Vec<bool> = (0..5).map(|_| random.uniform() < 0.5).collect();
            line.extend([false; STEPS]);
            data.iter().for_each(|mark| line.extend([*mark; STEPS]));
            place += stop_units * STEPS as f64;
            line.extend(vec![true; place as usize]);
            place = place.fract();
        }
        let points = line.len() - STEPS;
        let mark = |i: usize, steps: usize| -> f32 {
            let marks = line[i..i + steps].iter().filter(|m| **m).count();
            worth * (2.0 * marks as f32 / STEPS as f32 - steps as f32 / STEPS as f32)
        };
        Elements {
            steps: STEPS,
            mark: (0..points).map(|i| mark(i, STEPS)).collect(),
            space: (0..points).map(|i| -mark(i, STEPS)).collect(),
            part: (0..points * STEPS)
                .map(|k| mark(k / STEPS, k % STEPS))
                .collect(),
        }
    }

    #[test]
    fn a_stop_of_any_length_beats_elements_in_any_order() {
        let stops = Stops::new(STEPS);
        for (seed, units) in [1.0, 1.125, 1.25, 1.42, 1.5, 1.75, 2.0].iter().enumerate() {
            for worth in [4.0, 10.0] {
                let elements = elements(*units, worth, seed as u64);
                let free = stops.free(&elements);
                let margin = stops.all(&elements, free).0 - rivals(&elements);
                assert!(margin > 32.0, "{units} units, {worth}: {margin}");
            }
        }
    }

    #[test]
    fn the_mixture_is_no_more_than_its_parts() {
        let stops = Stops::new(STEPS);
        let shares: f32 = stops.kinds.iter().map(|kind| kind.0.exp()).sum();
        assert!((shares - 1.0).abs() < 1e-5);
        for units in [1.0, 1.5] {
            let elements = elements(units, 4.0, 7);
            let free = stops.free(&elements);
            let (all, best) = stops.all(&elements, free);
            assert!(all > free + FREE.ln());
            assert!(
                all - stops.one(&elements, best) < 3.0,
                "the best has most of it"
            );
            assert!(all < free + Stops::most_gain(CHARACTERS as f32 * (6.0 + units as f32)));
        }
    }
}
