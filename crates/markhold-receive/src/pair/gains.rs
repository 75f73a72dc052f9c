//! Gains: how strong each tone is while it is sent, and how much noise lies under it.
//!
//! The two tones fade apart, so each has its own power over time. It is the mean of what
//! the elements showed, weighed by how surely the tone was sent and by how near they lie
//! (exponential on both sides). How fast the fading is nobody knows beforehand: the time
//! constant is the one under which every element is best foretold by the others.

use markhold_signal::bessel::LnI0;

/// What one span showed of one tone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Showing {
    /// Grid point of its middle, may lie before the window.
    pub at: f64,
    /// Length in elements, less what was blanked.
    pub span: f32,
    /// Squared envelope over `span` squared: power of the tone and some noise.
    pub power: f32,
    /// Probability that the tone was sent.
    pub sent: f32,
}

/// Time constants to choose from, elements: from fading of a few Hz to none.
const CONSTANTS: [f32; 5] = [3.0, 6.0, 12.0, 30.0, 90.0];
/// Weight, in elements, of the long-term mean against what the elements show.
const PRIOR_WEIGHT: f32 = 0.3;
/// Shortest span that says anything.
const LEAST_SPAN: f32 = 0.2;

/// What a tone's power is followed with.
#[derive(Clone, Copy)]
struct Follow<'a> {
    showings: &'a [&'a Showing],
    noise: f32,
    prior: f32,
    steps: usize,
}

/// Weighted sum of powers, and the weight.
type Weighed = (f32, f32);

/// Power of a tone at `points` grid points, `steps` to the element, from showings in order
/// of time. `noise` is the noise power in one element, `prior` the long-term mean power.
pub fn follow_power(
    showings: &[Showing],
    noise: f32,
    prior: f32,
    points: usize,
    steps: usize,
    ln_i0: &LnI0,
) -> Vec<f32> {
    let usable: Vec<&Showing> = showings.iter().filter(|s| s.span > LEAST_SPAN).collect();
    let follow = Follow {
        showings: &usable,
        noise,
        prior,
        steps,
    };
    let best = CONSTANTS
        .iter()
        .map(|&c| (follow.foretold(c, ln_i0), c))
        .fold((f32::NEG_INFINITY, CONSTANTS[2]), |a, b| {
            if b.0 > a.0 { b } else { a }
        })
        .1;
    follow.smooth(points, best)
}

impl Follow<'_> {
    /// Log likelihood of every element under the power that the others give.
    fn foretold(&self, constant: f32, ln_i0: &LnI0) -> f32 {
        let before = self.one_sided(self.showings.iter().copied(), constant);
        let mut after = self.one_sided(self.showings.iter().rev().copied(), constant);
        after.reverse();
        let others = before.iter().zip(&after);
        let all = self.showings.iter().zip(others);
        all.map(|(showing, (b, a))| self.score(showing, *b, *a, ln_i0))
            .sum()
    }

    /// Log likelihood of one element under the power that those before and after it give.
    fn score(&self, showing: &Showing, before: Weighed, after: Weighed, ln_i0: &LnI0) -> f32 {
        let (b, a) = (before, after);
        let power = (b.0 + a.0 + self.prior * PRIOR_WEIGHT) / (b.1 + a.1 + PRIOR_WEIGHT);
        let energy = power.max(0.0) / self.noise;
        let envelope = (showing.power / self.noise).sqrt() * showing.span;
        showing.sent * (ln_i0.at(2.0 * energy.sqrt() * envelope) - energy * showing.span)
    }

    /// Sum and weight of all showings before each, in the order given.
    fn one_sided<'a>(
        &self,
        showings: impl Iterator<Item = &'a Showing>,
        constant: f32,
    ) -> Vec<Weighed> {
        let (mut sum, mut weight, mut at) = (0.0f32, 0.0f32, None);
        showings
            .map(|s| {
                let apart = (s.at - at.unwrap_or(s.at)).abs() as f32 / self.steps as f32;
                let decay = (-apart / constant).exp();
                (sum, weight, at) = (sum * decay, weight * decay, Some(s.at));
                let out = (sum, weight);
                let w = s.sent * s.span;
                sum += w * (s.power - self.noise / s.span);
                weight += w;
                out
            })
            .collect()
    }

    /// Power at `points` grid points: means over what lies on either side.
    fn smooth(&self, points: usize, constant: f32) -> Vec<f32> {
        let mut sums = vec![(self.prior * PRIOR_WEIGHT, PRIOR_WEIGHT); points];
        let constant = constant * self.steps as f32;
        let forward = self.showings.iter().copied();
        self.run(0..points, forward, |s, i| s.at < i, constant, &mut sums);
        let (points, backward) = ((0..points).rev(), self.showings.iter().rev().copied());
        self.run(points, backward, |s, i| s.at >= i, constant, &mut sums);
        // A tone below a tenth of the noise says nothing either way.
        let floor = self.noise * 0.1;
        sums.iter().map(|(s, w)| (s / w).max(floor)).collect()
    }

    /// Adds to every point the showings that were passed when it is reached, each with a
    /// weight that decays with the `constant`, grid points.
    fn run<'a>(
        &self,
        points: impl Iterator<Item = usize>,
        showings: impl Iterator<Item = &'a Showing>,
        passed: impl Fn(&Showing, f64) -> bool,
        constant: f32,
        sums: &mut [Weighed],
    ) {
        let decay = (-1.0 / constant).exp();
        let mut showings = showings.peekable();
        let (mut sum, mut weight) = (0.0f32, 0.0f32);
        for i in points {
            while let Some(s) = showings.next_if(|s| passed(s, i as f64)) {
                let apart = (s.at - i as f64).abs() as f32;
                let w = s.sent * s.span * (-apart / constant).exp();
                sum += w * (s.power - self.noise / s.span);
                weight += w;
            }
            sums[i].0 += sum;
            sums[i].1 += weight;
            sum *= decay;
            weight *= decay;
        }
    }
}
