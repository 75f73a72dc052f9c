//! How a receiver moves while it warms up.
//!
//! Its error begins off by some amount and comes to rest as e^(-t / T), t from when it was
//! switched on: one T for the receiver, an amount for every evening, both found by least squares.

use super::likely::{Likely, likely};

/// How much a reading of one evening scatters about its curve, Hz: prior, order of size.
const SCATTER_HZ: f64 = 5.0;
/// Amounts differ from evening to evening by so many Hz: prior.
const AMOUNTS_HZ: (f64, f64) = (5.0, 300.0);
/// Time constants tried, minutes: from a small set to a heavy valve receiver (common practice
/// says a quarter of an hour to an hour until it stands).
const SHORTEST_MIN: f64 = 3.0;
const LONGEST_MIN: f64 = 60.0;
const TRIED: usize = 40;
/// An evening tells its curve if it was followed from so early on, for so long, minutes.
const BEGUN_MIN: f64 = 15.0;
const FOLLOWED_MIN: f64 = 20.0;

/// A receiver's error after it was switched on, against where it comes to rest.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// After so many minutes a third (1/e) of the error is left.
    pub constant_min: f64,
    /// The error at the beginning, Hz.
    pub amount: Likely,
    /// Evenings it was learned from.
    pub evenings: usize,
}

impl WarmUp {
    /// From what was found on each evening: minutes from when it was switched on, and how many Hz
    /// too high the dial read. `None` if no evening was followed for long enough.
    pub fn of(evenings: &[Vec<(f64, f64)>]) -> Option<Self> {
        let followed: Vec<_> = evenings.iter().filter(|e| is_followed(e)).collect();
        if followed.is_empty() {
            return None;
        }
        let tried = (0..TRIED).map(|k| {
            let share = k as f64 / (TRIED - 1) as f64;
            let constant = SHORTEST_MIN * (LONGEST_MIN / SHORTEST_MIN).powf(share);
            let fits: Vec<Fit> = followed.iter().map(|e| fit(e, constant)).collect();
            (constant, fits)
        });
        let misfit = |fits: &[Fit]| fits.iter().map(|fit| fit.misfit).sum::<f64>();
        let (constant_min, fits) = tried.min_by(|a, b| misfit(&a.1).total_cmp(&misfit(&b.1)))?;
        let amounts: Vec<f64> = fits.iter().map(|fit| fit.amount).collect();
        Some(WarmUp {
            constant_min,
            amount: likely(&amounts, AMOUNTS_HZ)?,
            evenings: amounts.len(),
        })
    }

    /// The share of the amount that is left so many minutes after it was switched on.
    fn left(&self, minutes: f64) -> f64 {
        (-minutes.max(0.0) / self.constant_min).exp()
    }

    /// How much higher the dial reads so many minutes after it was switched on than at rest, Hz.
    pub fn error(&self, minutes: f64) -> Likely {
        Likely {
            middle: self.amount.middle * self.left(minutes),
            within: self.amount.within * self.left(minutes),
        }
    }

    /// By how many Hz what the dial reads too high grows from the one minute to the other.
    pub fn movement(&self, from: f64, to: f64) -> Likely {
        let share = self.left(to) - self.left(from);
        Likely {
            middle: self.amount.middle * share,
            within: self.amount.within * share.abs(),
        }
    }

    /// Minutes until it is within so many Hz of where it comes to rest.
    pub fn minutes_until(&self, within_hz: f64) -> f64 {
        let amount = self.amount.middle.abs();
        match amount > within_hz {
            true => self.constant_min * (amount / within_hz).ln(),
            false => 0.0,
        }
    }
}

fn is_followed(points: &[(f64, f64)]) -> bool {
    let first = points.iter().map(|p| p.0).fold(f64::MAX, f64::min);
    let last = points.iter().map(|p| p.0).fold(f64::MIN, f64::max);
    points.len() >= 3 && first <= BEGUN_MIN && last - first >= FOLLOWED_MIN
}

struct Fit {
    amount: f64,
    misfit: f64,
}

/// Least squares of rest + amount e^(-t / constant), with the amount's prior as one more reading
/// of 0 that scatters by the most that amounts do.
fn fit(points: &[(f64, f64)], constant: f64) -> Fit {
    let shape = |t: f64| (-t.max(0.0) / constant).exp();
    let n = points.len() as f64;
    let mean_shape = points.iter().map(|p| shape(p.0)).sum::<f64>() / n;
    let mean_error = points.iter().map(|p| p.1).sum::<f64>() / n;
    let prior = (SCATTER_HZ / AMOUNTS_HZ.1).powi(2);
    let both = |p: &(f64, f64)| (shape(p.0) - mean_shape) * (p.1 - mean_error);
    let square = |p: &(f64, f64)| (shape(p.0) - mean_shape).powi(2);
    let amount =
        points.iter().map(both).sum::<f64>() / (points.iter().map(square).sum::<f64>() + prior);
    let rest = mean_error - amount * mean_shape;
    let miss = |p: &(f64, f64)| (p.1 - rest - amount * shape(p.0)).powi(2);
    // A wrong reading must not choose the constant: what is beyond all scatter counts as that.
    let bounded = |p: &(f64, f64)| miss(p).min((20.0 * SCATTER_HZ).powi(2));
    Fit {
        amount,
        misfit: points.iter().map(bounded).sum::<f64>() + prior * amount * amount,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evening(rest: f64, amount: f64, constant: f64) -> Vec<(f64, f64)> {
        let at = |t: f64| (t, rest + amount * (-t / constant).exp());
        (0..12).map(|k| at(f64::from(k) * 5.0)).collect()
    }

    #[test]
    fn a_curve_is_found_again() {
        let evenings = [-600.0, -580.0, -640.0].map(|rest| evening(rest, 210.0, 16.0));
        let curve = WarmUp::of(&evenings).unwrap();
        assert!((curve.constant_min - 16.0).abs() < 1.5, "{curve:?}");
        assert!((curve.amount.middle - 210.0).abs() < 8.0, "{curve:?}");
        let half_hour = curve.movement(0.0, 30.0).middle;
        let truth = 210.0 * ((-30.0f64 / 16.0).exp() - 1.0);
        assert!((half_hour - truth).abs() < 6.0, "{half_hour} {truth}");
        // 210 e^(-t / 16) = 30 at t = 16 ln 7 = 31.1.
        assert!((curve.minutes_until(30.0) - 31.1).abs() < 3.0);
        assert_eq!(curve.minutes_until(1e3), 0.0);
    }

    #[test]
    fn an_evening_begun_late_or_left_early_tells_nothing() {
        let late = evening(0.0, 200.0, 15.0).split_off(5);
        let short = evening(0.0, 200.0, 15.0)[..3].to_vec();
        assert_eq!(WarmUp::of(&[late, short, vec![]]), None);
    }
}
