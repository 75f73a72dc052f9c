//! Running sums: the integral of a stream between any two instants, for the price of two
//! look-ups.
//!
//! An element's matched filter is the integral of its tone over the element. Kept as a
//! running sum, one stream serves every modulation rate and every start.

use crate::Complex64;

/// The running integral of a complex stream, linear between its samples.
#[derive(Clone, Debug, Default)]
pub struct RunningSum {
    rate_hz: f64,
    begin_s: f64,
    /// Integral from the stream's begin to each sample, value times seconds.
    sums: Vec<Complex64>,
}

impl RunningSum {
    /// Integrates samples that stand at `begin_s + k / rate_hz`, by the trapezoidal rule.
    pub fn new(samples: impl IntoIterator<Item = Complex64>, rate_hz: f64, begin_s: f64) -> Self {
        let mut sums = Vec::new();
        let (mut total, mut before) = (Complex64::default(), None);
        for y in samples {
            if let Some(before) = before {
                total += (y + before) * (0.5 / rate_hz);
            }
            before = Some(y);
            sums.push(total);
        }
        Self {
            rate_hz,
            begin_s,
            sums,
        }
    }

    /// Integral from the stream's begin to instant `t`, s; constant outside the stream.
    #[inline]
    pub fn at(&self, t: f64) -> Complex64 {
        let place = (t - self.begin_s) * self.rate_hz;
        let Some(last) = self.sums.len().checked_sub(1) else {
            return Complex64::default();
        };
        if place <= 0.0 {
            return self.sums[0];
        }
        let i = place as usize;
        if i >= last {
            return self.sums[last];
        }
        let part = place - i as f64;
        self.sums[i] + (self.sums[i + 1] - self.sums[i]) * part
    }

    /// Integral from `from` to `to`, s.
    pub fn between(&self, from: f64, to: f64) -> Complex64 {
        self.at(to) - self.at(from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrates_a_constant_exactly_between_any_instants() {
        let sum = RunningSum::new((0..50).map(|_| Complex64::new(2.0, -1.0)), 10.0, 3.0);
        for (from, to) in [(3.0, 4.0), (3.33, 5.77), (4.0, 4.05)] {
            let got = sum.between(from, to);
            let expected = Complex64::new(2.0, -1.0) * (to - from);
            assert!((got - expected).norm() < 1e-12, "{from} to {to}: {got}");
        }
    }

    #[test]
    fn is_constant_outside_the_stream() {
        let sum = RunningSum::new((0..5).map(|_| Complex64::new(1.0, 0.0)), 1.0, 0.0);
        assert_eq!(sum.between(-5.0, 0.0), Complex64::default());
        assert_eq!(sum.between(-5.0, 50.0), Complex64::new(4.0, 0.0));
        assert_eq!(
            RunningSum::default().between(0.0, 1.0),
            Complex64::default()
        );
    }
}
