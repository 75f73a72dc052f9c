//! Gains: how strong each tone is while it is sent, and how much noise lies under it.
//!
//! The two tones fade apart, so each has its own power over time: a curve through what the
//! elements showed ([`super::curve`]) where it fades, or their mean (exponential on both
//! sides) where it does so slowly or not at all; both weighed by how surely the tone was
//! sent and by how near they lie. How fast the fading is nobody knows beforehand: the way and
//! the time constant are those under which every element is best foretold by the others.

use markhold_signal::bessel::LnI0;

use super::curve::Curves;
pub use super::curve::Showing;

/// Time constants of means to choose from, elements: slow fading to none.
const MEANS: [f32; 3] = [12.0, 30.0, 90.0];
/// Time constants of curves to choose from, elements: fading of a Hz to a tenth. Shorter ones
/// follow single elements, and two keyed carriers then pass for a fading signal.
const CURVES: [f32; 2] = [9.0, 14.0];
/// Weight, in elements, of the long-term mean against what the elements show.
const PRIOR_WEIGHT: f32 = 0.3;
/// Least power, in noise powers: a tone below a tenth of the noise says nothing either way.
const LEAST: f32 = 0.1;
/// A tone sent with less than this probability is not asked how it was foretold.
const HARDLY: f32 = 0.02;
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
    let curves = Curves::new(&usable, noise, (prior, PRIOR_WEIGHT), steps);
    let means = MEANS.map(|c| (follow.foretold(c, ln_i0), Way::Mean(c)));
    let bent = CURVES.map(|c| (follow.foretold_by(&curves, c, ln_i0), Way::Curve(c)));
    let best = means.iter().chain(&bent);
    match best.max_by(|a, b| a.0.total_cmp(&b.0)) {
        Some((_, Way::Curve(c))) => follow.along(&curves, *c, points),
        Some((_, Way::Mean(c))) => follow.smooth(points, *c),
        None => unreachable!("there are ways to choose from"),
    }
}

/// How a power is followed, with its time constant, elements.
#[derive(Clone, Copy)]
enum Way {
    Mean(f32),
    Curve(f32),
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
        self.score_with(showing, power.max(0.0), ln_i0)
    }

    /// Log likelihood of every element under the curve through the others.
    fn foretold_by(&self, curves: &Curves, constant: f32, ln_i0: &LnI0) -> f32 {
        let least = self.noise * LEAST;
        let score = |(s, power): (&&Showing, f32)| match s.sent < HARDLY {
            true => 0.0,
            false => self.score_with(s, power.max(least), ln_i0),
        };
        let powers = curves.at_showings(constant);
        self.showings.iter().zip(powers).map(score).sum()
    }

    /// Power at `points` grid points along a curve: straight lines from one half element to
    /// the next.
    fn along(&self, curves: &Curves, constant: f32, points: usize) -> Vec<f32> {
        let half = (self.steps / 2).max(1);
        let least = self.noise * LEAST;
        let time = |k: usize| (k * half) as f32 / self.steps as f32;
        let times: Vec<f32> = (0..points / half + 2).map(time).collect();
        let mut knots = curves.at(&times, constant);
        knots.iter_mut().for_each(|power| *power = power.max(least));
        let between = |i: usize| {
            let (k, part) = (i / half, (i % half) as f32 / half as f32);
            knots[k] + (knots[k + 1] - knots[k]) * part
        };
        (0..points).map(between).collect()
    }

    /// Log likelihood of one element of a tone of this power.
    fn score_with(&self, showing: &Showing, power: f32, ln_i0: &LnI0) -> f32 {
        let energy = power / self.noise;
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
        let floor = self.noise * LEAST;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::Random;
    use markhold_signal::Complex32;

    const STEPS: usize = 16;

    /// Showings of a tone in noise of power 1, an element each; `power` while sent, which is
    /// every other element.
    fn showings(seed: u64, count: usize, power: impl Fn(usize) -> f32) -> Vec<Showing> {
        let mut random = Random::new(seed);
        (0..count)
            .map(|i| {
                let sent = (i % 2) as f32;
                let sum = random.complex(1.0) + Complex32::from((power(i) * sent).sqrt());
                Showing {
                    at: ((i * STEPS) + STEPS / 2) as f64,
                    span: 1.0,
                    power: sum.norm_sqr(),
                    sent,
                }
            })
            .collect()
    }

    fn follow(showings: &[Showing], noise: f32, prior: f32, points: usize) -> Vec<f32> {
        follow_power(showings, noise, prior, points, STEPS, &LnI0::default())
    }

    fn foretold(showings: &[Showing], constant: f32) -> f32 {
        let follow = Follow {
            showings: &showings.iter().collect::<Vec<_>>(),
            noise: 1.0,
            prior: 10.0,
            steps: STEPS,
        };
        follow.foretold(constant, &LnI0::default())
    }

    /// Power in noise scatters by `sqrt(2 P + 1)`: 21 for 10, over 100 elements 5 percent.
    #[test]
    fn a_steady_power_is_recovered_in_noise() {
        for seed in 1..9 {
            for prior in [2.0, 50.0] {
                let power = follow(&showings(seed, 200, |_| 10.0), 1.0, prior, 200 * STEPS);
                let mean = power.iter().sum::<f32>() / power.len() as f32;
                assert!((mean - 10.0).abs() < 2.0, "seed {seed}: {mean}");
            }
        }
    }

    #[test]
    fn the_constant_fits_the_fading() {
        let fading = |i: usize| 20.5 + 19.5 * (i as f32 * std::f32::consts::TAU / 40.0).cos();
        for seed in 1..9 {
            let (fast, steady) = (showings(seed, 200, fading), showings(seed, 200, |_| 10.0));
            assert!(foretold(&fast, 6.0) > foretold(&fast, 90.0), "seed {seed}");
            assert!(
                foretold(&steady, 90.0) > foretold(&steady, 3.0),
                "seed {seed}"
            );
            let power = follow(&fast, 1.0, 20.0, 200 * STEPS);
            let mean = |phase: usize| {
                let points = (phase * STEPS..power.len()).step_by(40 * STEPS);
                let (sum, count) = points.fold((0.0, 0.0), |a, i| (a.0 + power[i], a.1 + 1.0));
                sum / count
            };
            assert!(mean(0) > 25.0, "seed {seed}: {} where strong", mean(0));
            assert!(mean(20) < 12.0, "seed {seed}: {} where faded", mean(20));
        }
    }

    #[test]
    fn a_tone_that_is_never_sent_keeps_the_prior() {
        let mut never = showings(1, 100, |_| 10.0);
        never.iter_mut().for_each(|s| s.sent = 0.0);
        for list in [&never[..], &[]] {
            for power in follow(list, 1.0, 7.0, 50 * STEPS) {
                assert!((power - 7.0).abs() < 1e-4, "{power}");
            }
        }
    }

    #[test]
    fn silence_is_no_power_and_no_nan() {
        let mut silent = showings(1, 50, |_| 0.0);
        silent.iter_mut().for_each(|s| s.power = 0.0);
        for prior in [0.0, 1.0] {
            for power in follow(&silent, 0.0, prior, 50 * STEPS) {
                assert!(
                    power.is_finite() && power >= 0.0 && power <= prior,
                    "{power}"
                );
            }
        }
    }

    #[test]
    fn power_does_not_fall_below_a_tenth_of_the_noise() {
        let mut gone = showings(1, 50, |_| 0.0);
        gone.iter_mut().for_each(|s| (s.power, s.sent) = (0.0, 1.0));
        let power = follow(&gone, 1.0, 5.0, 50 * STEPS);
        assert!(power.iter().all(|p| *p >= 0.1), "{power:?}");
        assert_eq!(power[25 * STEPS], 0.1);
    }
}
