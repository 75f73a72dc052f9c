//! Curves: a power that rises and falls, from noisy showings of it.
//!
//! Around every instant a parabola is laid through the showings nearby, weighed by a bell
//! (local regression: W. S. Cleveland, JASA 74, 1979). A mean of neighbours makes a fade
//! look shallower than it is, since all neighbours are stronger; a parabola bends with it.
//! What a fade's bottom is taken for decides how much its doubtful elements are believed.

use pulp::{Arch, Simd, WithSimd};

use crate::sums::vectors;

/// How far showings count, in constants: what lies beyond weighs less than one percent.
const REACH: f32 = 3.0;
/// Resistance of slope and bend against few showings, in showings.
const RIDGE: f64 = 0.5;

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

/// Showings of one tone, ready to be laid curves through.
pub struct Curves {
    /// Instants, elements, in order.
    at: Vec<f32>,
    /// Weight of each, elements.
    weight: Vec<f32>,
    /// Power of the tone less what noise adds.
    power: Vec<f32>,
    /// What is expected without any, and its weight in elements.
    prior: (f32, f32),
}

impl Curves {
    /// Curves through `showings`, `steps` grid points to the element, over noise of power
    /// `noise` in one element; `prior` is the expected power and its weight, elements.
    pub fn new(showings: &[&Showing], noise: f32, prior: (f32, f32), steps: usize) -> Self {
        let at = |s: &&Showing| (s.at / steps as f64) as f32;
        Self {
            at: showings.iter().map(at).collect(),
            weight: showings.iter().map(|s| s.sent * s.span).collect(),
            power: showings.iter().map(|s| s.power - noise / s.span).collect(),
            prior,
        }
    }

    /// Power where each showing lies, from all others.
    pub fn at_showings(&self, constant: f32) -> Vec<f32> {
        Arch::new().dispatch(Fits {
            curves: self,
            constant,
            times: &self.at,
            is_showing: true,
        })
    }

    /// Power at instants, elements, from showings within a few `constant` elements.
    pub fn at(&self, times: &[f32], constant: f32) -> Vec<f32> {
        Arch::new().dispatch(Fits {
            curves: self,
            constant,
            times,
            is_showing: false,
        })
    }

    #[inline(always)]
    fn fit<S: Simd>(&self, simd: S, t: f32, constant: f32, but: Option<usize>) -> f32 {
        let reach = REACH * constant;
        let low = self.at.partition_point(|&at| at < t - reach);
        let high = self.at.partition_point(|&at| at <= t + reach);
        // What is left out is never added: a crash would leave nothing of the others when it is taken
        // away again.
        let (first, second) = match but {
            Some(i) => (low..i, i + 1..high),
            None => (low..high, high..high),
        };
        let mut sums = Sums::default();
        let (value, weight) = self.prior;
        (sums.of[0], sums.with[0]) = (weight, weight * value);
        for range in [first, second] {
            let lists = [&self.at, &self.weight, &self.power].map(|list| &list[range.clone()]);
            sums.add(vectors::bell_moments(simd, lists, t, constant.recip()));
        }
        sums.value()
    }
}

/// The curve at many instants.
struct Fits<'a> {
    curves: &'a Curves,
    constant: f32,
    times: &'a [f32],
    /// The instants are those of the showings, each of which is left out there.
    is_showing: bool,
}

impl WithSimd for Fits<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Vec<f32> {
        let mut all = vec![0.0; self.times.len()];
        for (i, (out, t)) in all.iter_mut().zip(self.times).enumerate() {
            let but = self.is_showing.then_some(i);
            *out = self.curves.fit(simd, *t, self.constant, but);
        }
        all
    }
}

/// Weighted sums of powers of the distance, alone and with the values.
#[derive(Default)]
struct Sums {
    of: [f32; 5],
    with: [f32; 5],
}

impl Sums {
    fn add(&mut self, [of, with]: [[f32; 5]; 2]) {
        for k in 0..5 {
            self.of[k] += of[k];
            self.with[k] += with[k];
        }
    }

    /// The parabola's value where the distance is zero: Cramer's rule for the first unknown
    /// of three normal equations.
    fn value(&self) -> f32 {
        let [a, b, c, f, g] = self.of.map(f64::from);
        let (e, g) = (c + RIDGE, g + RIDGE);
        let [x, y, z, ..] = self.with.map(f64::from);
        let determinant = a * (e * g - f * f) - b * (b * g - f * c) + c * (b * f - e * c);
        let first = x * (e * g - f * f) - b * (y * g - f * z) + c * (y * f - e * z);
        let value = match determinant > f64::MIN_POSITIVE {
            true => first / determinant,
            false => x / a.max(f64::MIN_POSITIVE),
        };
        value as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEPS: usize = 16;

    fn curves(power: impl Fn(f32) -> f32, weight: f32) -> Curves {
        let showings: Vec<Showing> = (0..80)
            .map(|i| Showing {
                at: (i * STEPS) as f64,
                span: 1.0,
                power: power(i as f32) + 1.0,
                sent: (i % 3 != 0) as u8 as f32,
            })
            .collect();
        let all: Vec<&Showing> = showings.iter().collect();
        Curves::new(&all, 1.0, (5.0, weight), STEPS)
    }

    /// The ridge holds back a little of the bend.
    #[test]
    fn a_parabola_is_followed() {
        let parabola = |t: f32| 2.0 + 0.02 * (t - 40.0).powi(2);
        let curves = curves(parabola, 0.0);
        for t in [20.0, 35.5, 40.0, 60.0] {
            let found = curves.at(&[t], 6.0)[0];
            assert!((found - parabola(t)).abs() < 0.05, "at {t}: {found}");
        }
    }

    #[test]
    fn a_fade_is_as_deep_as_it_is() {
        let fade = |t: f32| 10.0 * (1.0 - (-(t - 40.0).powi(2) / 50.0).exp());
        let found = curves(fade, 0.05).at(&[40.0], 4.0)[0];
        assert!(found < 1.5, "{found}");
    }

    #[test]
    fn a_showing_does_not_foretell_itself() {
        // As strong as a crash.
        for strong in [1e3, 1e6, 1e9] {
            let spike = |t: f32| if t == 40.0 { strong } else { 4.0 };
            let curves = curves(spike, 0.05);
            let found = curves.at_showings(6.0)[40];
            assert!((found - 4.0).abs() < 0.05, "{strong}: {found}");
            assert!(curves.at(&[40.0], 6.0)[0] > 50.0);
        }
    }

    /// Against the normal equations solved by elimination.
    #[test]
    fn agrees_with_elimination() {
        let curves = curves(|t| 3.0 + (0.7 * t).sin() + 0.1 * t, 0.3);
        for (t, constant) in [(0.0, 4.0), (10.3, 6.0), (79.0, 14.0)] {
            let mut m = [[0.3, 0.0, 0.0, 1.5], [0.0; 4], [0.0; 4]];
            (m[1][1], m[2][2]) = (RIDGE, RIDGE);
            for i in 0..80 {
                let d = f64::from((curves.at[i] - t) / constant);
                if d.abs() <= f64::from(REACH) {
                    let w = f64::from(curves.weight[i]) * (-0.5 * d * d).exp();
                    let basis = [1.0, d, d * d];
                    for r in 0..3 {
                        for c in 0..3 {
                            m[r][c] += w * basis[r] * basis[c];
                        }
                        m[r][3] += w * basis[r] * f64::from(curves.power[i]);
                    }
                }
            }
            let slow = eliminated(m) as f32;
            let fast = curves.at(&[t], constant)[0];
            assert!((slow - fast).abs() < 1e-4, "at {t}: {slow} {fast}");
        }
    }

    /// First unknown of three equations.
    fn eliminated(mut m: [[f64; 4]; 3]) -> f64 {
        for pivot in [2, 1] {
            for row in 0..pivot {
                let factor = m[row][pivot] / m[pivot][pivot];
                let from = m[pivot];
                m[row]
                    .iter_mut()
                    .zip(from)
                    .for_each(|(x, y)| *x -= factor * y);
            }
        }
        m[0][3] / m[0][0]
    }
}
