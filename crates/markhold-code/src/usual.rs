//! Rates, shifts and stop elements met with in practice.

/// Modulation rates, baud, ascending.
///
/// 45.45 baud is short for one over 22 ms (US Army teletypewriter training text); the
/// others are common practice.
pub const RATES_BAUD: [f64; 5] = [1.0 / 0.022, 50.0, 56.92, 75.0, 100.0];

/// Distances of the two tones, Hz, ascending (common practice).
pub const SHIFTS_HZ: [f64; 6] = [85.0, 170.0, 200.0, 425.0, 450.0, 850.0];

/// Lengths of the stop element, units, ascending.
///
/// 1.0, 1.42, 1.5 and 2.0 stand in the US Navy electrician training text; 1.42 is usual in
/// the United States and 1.5 at 50 baud.
pub const STOP_UNITS: [f64; 4] = [1.0, 1.42, 1.5, 2.0];

/// The entry of `table` nearest to `value` in proportion, if it lies within `tolerance`
/// (0.01 = 1 %).
pub fn nearest(table: &[f64], value: f64, tolerance: f64) -> Option<f64> {
    let off = |entry: f64| (value / entry - 1.0).abs();
    let best = table
        .iter()
        .copied()
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))?;
    (off(best) <= tolerance).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_rate_is_22_ms_elements() {
        assert!((1.0 / RATES_BAUD[0] - 0.022).abs() < 1e-15);
    }

    #[test]
    fn nearest_is_nearest_and_keeps_its_tolerance() {
        assert_eq!(nearest(&SHIFTS_HZ, 168.0, 0.02), Some(170.0));
        assert_eq!(nearest(&SHIFTS_HZ, 186.0, 0.02), None);
        assert_eq!(nearest(&RATES_BAUD, 50.3, 0.01), Some(50.0));
        assert_eq!(nearest(&RATES_BAUD, f64::NAN, 0.01), None);
        assert_eq!(nearest(&[], 50.0, 0.01), None);
    }
}
