//! Sums of probabilities that are kept as logarithms.

/// The logarithm of nothing: small enough to vanish in every sum, large enough that sums
/// of several stay finite.
pub const NEVER: f32 = -1e30;

/// 1.5 * 2^23: added and taken away again, it rounds to whole numbers.
pub const ROUND: f32 = 12_582_912.0;

/// The Taylor series of the exponential, highest power first.
pub const EXP_SERIES: [f32; 6] = [1.0 / 120.0, 1.0 / 24.0, 1.0 / 6.0, 1.0 / 2.0, 1.0, 1.0];

/// `exp(x)` for `x <= 0`, relative error below 1e-5; vectorises on any machine.
///
/// The whole part of `x / ln 2` goes into the floating-point exponent (adding and taking
/// away 1.5 * 2^23 rounds to it), the rest through the Taylor series to the fifth power.
#[inline(always)]
pub fn exp_fast(x: f32) -> f32 {
    let y = (x * std::f32::consts::LOG2_E).max(-126.0);
    let shifted = y + ROUND;
    let h = (y - (shifted - ROUND)) * std::f32::consts::LN_2;
    let [first, others @ ..] = EXP_SERIES;
    let series = others.iter().fold(first, |sum, c| c + h * sum);
    let scale = f32::from_bits(shifted.to_bits().wrapping_add(127) << 23);
    series * scale
}

/// `exp(x)` for `x` from -174 to 174, relative error below 3e-5: that of half of it squared, since
/// [`exp_fast`] ends at the half.
#[inline(always)]
pub fn exp_wide(x: f32) -> f64 {
    let half = f64::from(exp_fast(0.5 * x));
    half * half
}

/// `ln(x)` for normal positive `x`, absolute error below 1e-6.
///
/// With `x = m 2^e`, `m` between the roots of 1/2 and 2: `ln m = 2 atanh((m-1)/(m+1))`.
#[inline(always)]
pub fn ln_fast(x: f32) -> f32 {
    // The bits of sqrt(1/2): what lies above them is the exponent to take out.
    const HALF_ROOT: u32 = 0x3f35_04f3;
    let exponent = (x.to_bits().wrapping_sub(HALF_ROOT) as i32) >> 23;
    let m = f32::from_bits(x.to_bits().wrapping_sub((exponent << 23) as u32));
    let s = (m - 1.0) / (m + 1.0);
    let q = s * s;
    exponent as f32 * std::f32::consts::LN_2
        + 2.0 * s * (1.0 + q * (1.0 / 3.0 + q * (1.0 / 5.0 + q * (1.0 / 7.0))))
}

/// `ln(exp(a) + exp(b))`.
#[inline(always)]
pub fn add(a: f32, b: f32) -> f32 {
    a.max(b) + ln_fast(1.0 + exp_fast(-(a - b).abs()))
}

/// As [`add`], quicker where one of both is mostly far below the other: what is less than
/// the rounding of the result is not worked out.
#[inline(always)]
pub fn add_minor(a: f32, b: f32) -> f32 {
    const NOTHING: f32 = -17.0;
    let apart = -(a - b).abs();
    match apart < NOTHING {
        true => a.max(b),
        false => a.max(b) + ln_fast(1.0 + exp_fast(apart)),
    }
}

/// `ln` of the sum of the exponentials of all terms; `NEVER` for none.
#[inline(always)]
pub fn sum(terms: &[f32]) -> f32 {
    let highest = terms.iter().fold(NEVER, |a, &b| a.max(b));
    if highest <= NEVER {
        return NEVER;
    }
    highest + ln_fast(terms.iter().map(|&t| exp_fast(t - highest)).sum::<f32>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fast_functions_are_close() {
        for i in 0..8000 {
            let x = -(i as f32) * 0.01;
            let error = (exp_fast(x) / x.exp() - 1.0).abs();
            assert!(error < 1e-5, "exp({x}): relative error {error}");
        }
        for i in -1700..1700 {
            let x = i as f32 * 0.1;
            let error = (exp_wide(x) / f64::from(x).exp() - 1.0).abs();
            assert!(error < 3e-5, "exp({x}): relative error {error}");
        }
        for i in 1..100_000 {
            let x = i as f32 * 0.001;
            assert!((ln_fast(x) - x.ln()).abs() < 2e-6, "ln({x})");
        }
        assert!(exp_fast(-1000.0) < 1e-37);
        assert!(exp_fast(NEVER) < 1e-37);
    }

    #[test]
    fn sums_agree_with_plain_arithmetic() {
        let terms = [-1.0f32, -3.5, -0.25, NEVER, -20.0];
        let plain = terms.iter().map(|t| t.exp()).sum::<f32>().ln();
        assert!((sum(&terms) - plain).abs() < 1e-4);
        assert!((add(-1.0, -2.0) - (f32::exp(-1.0) + f32::exp(-2.0)).ln()).abs() < 1e-4);
        for i in 0..4000 {
            let (a, b) = (7.0, 7.0 - 20.0 + i as f32 * 0.01);
            assert!((add_minor(a, b) - add(a, b)).abs() < 1e-6, "{b}");
            assert!((add_minor(b, a) - add(b, a)).abs() < 1e-6, "{b}");
        }
        assert_eq!(add_minor(NEVER, NEVER), add(NEVER, NEVER));
        assert_eq!(sum(&[]), NEVER);
        assert_eq!(add(3.0, NEVER), 3.0);
    }
}
