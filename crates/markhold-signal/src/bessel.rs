//! The modified Bessel function of order zero: the likelihood of an envelope.
//!
//! A tone of amplitude `A` in complex noise of variance `n` has an envelope `|x|` whose
//! likelihood, against noise alone, is `exp(-A²/n) I0(2 A |x| / n)` (the Rice
//! distribution over the Rayleigh distribution).

/// `I0(x) exp(-|x|)`: the polynomial approximations of Abramowitz & Stegun, Handbook of
/// Mathematical Functions, 9.8.1 and 9.8.2 (error below 2e-7).
pub fn i0_scaled(x: f64) -> f64 {
    let x = x.abs();
    if x < 3.75 {
        let t = (x / 3.75).powi(2);
        let small = [
            1.0,
            3.515_622_9,
            3.089_942_4,
            1.206_749_2,
            0.265_973_2,
            0.036_076_8,
            0.004_581_3,
        ];
        return polynomial(&small, t) * (-x).exp();
    }
    let large = [
        0.398_942_28,
        0.013_285_92,
        0.002_253_19,
        -0.001_575_65,
        0.009_162_81,
        -0.020_577_06,
        0.026_355_37,
        -0.016_476_33,
        0.003_923_77,
    ];
    polynomial(&large, 3.75 / x) / x.sqrt()
}

fn polynomial(coefficients: &[f64], t: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * t + c)
}

/// Steps a unit of the table below.
const STEPS: f32 = 16.0;
/// Where the table ends and the asymptote `x - ln(2 pi x)/2` takes over (error 1/(8x)).
const END: f32 = 128.0;

/// `ln I0(x)` by a table: for inner loops. Error below 3e-4 up to 128, below 1e-3 beyond.
pub struct LnI0 {
    /// `ln I0(x) - x` at steps of 1/16.
    table: Vec<f32>,
}

impl Default for LnI0 {
    fn default() -> Self {
        let last = (END * STEPS) as usize + 1;
        let entry = |i: usize| i0_scaled(i as f64 / f64::from(STEPS)).ln() as f32;
        Self {
            table: (0..=last).map(entry).collect(),
        }
    }
}

impl LnI0 {
    /// `ln I0(x)` for `x >= 0`.
    #[inline]
    pub fn at(&self, x: f32) -> f32 {
        if x >= END {
            return x - 0.5 * (std::f32::consts::TAU * x).ln();
        }
        let place = x * STEPS;
        let i = place as usize;
        let part = place - i as f32;
        x + self.table[i] + part * (self.table[i + 1] - self.table[i])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The power series, Abramowitz & Stegun 9.6.12: slow and plain.
    fn i0_series(x: f64) -> f64 {
        let q = x * x / 4.0;
        (1..200)
            .fold((1.0, 1.0), |(sum, term), k| {
                let term = term * q / f64::from(k * k);
                (sum + term, term)
            })
            .0
    }

    #[test]
    fn agrees_with_the_power_series() {
        for i in 0..400 {
            let x = f64::from(i) * 0.1;
            let expected = i0_series(x) * (-x).exp();
            assert!((i0_scaled(x) / expected - 1.0).abs() < 1e-6, "x = {x}");
        }
    }

    #[test]
    fn the_table_agrees_with_the_function() {
        let ln_i0 = LnI0::default();
        for i in 0..4000 {
            let x = i as f32 * 0.0437;
            let expected = (i0_scaled(f64::from(x)).ln() + f64::from(x)) as f32;
            assert!(
                (ln_i0.at(x) - expected).abs() < 1e-3,
                "x = {x}: {} {expected}",
                ln_i0.at(x)
            );
        }
    }
}
