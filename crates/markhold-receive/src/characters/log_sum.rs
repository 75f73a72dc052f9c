//! Sums of probabilities that are kept as logarithms.

/// The logarithm of nothing: small enough to vanish in every sum, large enough that sums
/// of several stay finite.
pub const NEVER: f32 = -1e30;

/// `exp(x)` for `x <= 0`, relative error below 1e-4; vectorises.
///
/// The exponent's whole part goes into the floating-point exponent, its fraction through
/// the Taylor series of `2^f` about 1/2 up to the fourth power.
#[inline]
pub fn exp_fast(x: f32) -> f32 {
    let y = (x * std::f32::consts::LOG2_E).max(-126.0);
    let whole = y.floor();
    let h = (y - whole - 0.5) * std::f32::consts::LN_2;
    let taylor = 1.0 + h * (1.0 + h * (0.5 + h * (1.0 / 6.0 + h * (1.0 / 24.0))));
    let scale = f32::from_bits(((whole as i32 + 127) as u32) << 23);
    std::f32::consts::SQRT_2 * taylor * scale
}

/// `ln(exp(a) + exp(b))`.
#[inline]
pub fn add(a: f32, b: f32) -> f32 {
    let (high, low) = if a > b { (a, b) } else { (b, a) };
    if low - high < -25.0 {
        high
    } else {
        high + exp_fast(low - high).ln_1p()
    }
}

/// `ln` of the sum of the exponentials of all terms; `NEVER` for none.
#[inline]
pub fn sum(terms: &[f32]) -> f32 {
    let highest = terms.iter().fold(NEVER, |a, &b| a.max(b));
    if highest <= NEVER {
        return NEVER;
    }
    highest
        + terms
            .iter()
            .map(|&t| exp_fast(t - highest))
            .sum::<f32>()
            .ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fast_exponential_is_close() {
        for i in 0..8000 {
            let x = -(i as f32) * 0.01;
            let error = (exp_fast(x) / x.exp() - 1.0).abs();
            assert!(error < 1e-4, "exp({x}): relative error {error}");
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
        assert_eq!(sum(&[]), NEVER);
        assert_eq!(add(3.0, NEVER), 3.0);
    }
}
