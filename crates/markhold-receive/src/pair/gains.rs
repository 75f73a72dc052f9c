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

/// Power of a tone at `points` grid points.
pub fn follow_power(
    showings: &[Showing],
    noise: f32,
    prior: f32,
    points: usize,
    steps: usize,
    ln_i0: &LnI0,
) -> Vec<f32> {
    let usable: Vec<&Showing> = showings.iter().filter(|s| s.span > LEAST_SPAN).collect();
    let best = CONSTANTS
        .iter()
        .map(|&c| (foretold(&usable, noise, prior, c, steps, ln_i0), c))
        .fold((f32::NEG_INFINITY, CONSTANTS[2]), |a, b| {
            if b.0 > a.0 { b } else { a }
        })
        .1;
    smooth(&usable, noise, prior, points, steps, best)
}

/// Log likelihood of every element under the power that the others give.
fn foretold(
    showings: &[&Showing],
    noise: f32,
    prior: f32,
    constant: f32,
    steps: usize,
    ln_i0: &LnI0,
) -> f32 {
    let before = one_sided(showings.iter().copied(), noise, constant, steps);
    let mut after = one_sided(showings.iter().rev().copied(), noise, constant, steps);
    after.reverse();
    let score = |(showing, (b, a)): (&&Showing, (&(f32, f32), &(f32, f32)))| {
        let power = (b.0 + a.0 + prior * PRIOR_WEIGHT) / (b.1 + a.1 + PRIOR_WEIGHT);
        let energy = power.max(0.0) / noise;
        let envelope = (showing.power / noise).sqrt() * showing.span;
        showing.sent * (ln_i0.at(2.0 * energy.sqrt() * envelope) - energy * showing.span)
    };
    showings
        .iter()
        .zip(before.iter().zip(&after))
        .map(score)
        .sum()
}

/// Weighted sum and weight of all showings before each, in the order given.
fn one_sided<'a>(
    showings: impl Iterator<Item = &'a Showing>,
    noise: f32,
    constant: f32,
    steps: usize,
) -> Vec<(f32, f32)> {
    let (mut sum, mut weight, mut at) = (0.0f32, 0.0f32, None);
    showings
        .map(|s| {
            let apart = (s.at - at.unwrap_or(s.at)).abs() as f32 / steps as f32;
            let decay = (-apart / constant).exp();
            (sum, weight, at) = (sum * decay, weight * decay, Some(s.at));
            let out = (sum, weight);
            let w = s.sent * s.span;
            sum += w * (s.power - noise / s.span);
            weight += w;
            out
        })
        .collect()
}

fn smooth(
    showings: &[&Showing],
    noise: f32,
    prior: f32,
    points: usize,
    steps: usize,
    constant: f32,
) -> Vec<f32> {
    let mut sums = vec![(prior * PRIOR_WEIGHT, PRIOR_WEIGHT); points];
    let mut run = |order: &mut dyn Iterator<Item = usize>,
                   list: &mut dyn Iterator<Item = &Showing>,
                   backward: bool| {
        let decay = (-1.0 / (constant * steps as f32)).exp();
        let mut list = list.peekable();
        let (mut sum, mut weight) = (0.0f32, 0.0f32);
        for i in order {
            while let Some(s) = list.next_if(|s| {
                if backward {
                    s.at >= i as f64
                } else {
                    s.at < i as f64
                }
            }) {
                let w = s.sent
                    * s.span
                    * (-((s.at - i as f64).abs() as f32) / (constant * steps as f32)).exp();
                sum += w * (s.power - noise / s.span);
                weight += w;
            }
            sums[i].0 += sum;
            sums[i].1 += weight;
            sum *= decay;
            weight *= decay;
        }
    };
    run(&mut (0..points), &mut showings.iter().copied(), false);
    run(
        &mut (0..points).rev(),
        &mut showings.iter().rev().copied(),
        true,
    );
    // A tone below a tenth of the noise says nothing either way.
    sums.iter().map(|(s, w)| (s / w).max(noise * 0.1)).collect()
}
