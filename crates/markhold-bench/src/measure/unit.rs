//! The duration of the line's unit, found from its edges.

use super::framing::{Framing, frame};
use crate::line::Edge;
use markhold_code::usual::RATES_BAUD;

/// Rates beyond the usual ones that lines are measured at, baud: 200 Bd stands in ITU-T
/// R.120, 300 Bd is the upper end of S.3 (both as in the references).
const MORE_RATES_BAUD: [f64; 3] = [150.0, 200.0, 300.0];
/// A nominal rate is a known one within this share.
const NOMINAL: f64 = 0.06;
/// Speed errors to begin from; each finds its way up to about 2 % further.
const BEGINNINGS: [f64; 7] = [0.93, 0.955, 0.98, 1.0, 1.02, 1.045, 1.07];
/// Shortest intervals are those at this share of all, so that a few glitches do no harm.
const SHORTEST: f64 = 0.15;

/// All known rates, baud.
pub fn rates_baud() -> impl Iterator<Item = f64> {
    RATES_BAUD.into_iter().chain(MORE_RATES_BAUD)
}

/// The known rate that a measured one stands for, baud.
pub fn nominal_baud(rate_baud: f64) -> Option<f64> {
    let off = |known: f64| (rate_baud / known).ln().abs();
    rates_baud()
        .min_by(|a, b| off(*a).total_cmp(&off(*b)))
        .filter(|known| off(*known) < NOMINAL)
}

/// A first idea of the unit, s: shortest marks and spaces, averaged because bias lengthens
/// one by what it takes from the other. `None` for fewer than four intervals.
pub fn rough_unit_s(line: &[Edge]) -> Option<f64> {
    let shortest = |mark: bool| {
        let mut lengths: Vec<f64> = line
            .windows(2)
            .filter(|pair| pair[0].mark == mark)
            .map(|pair| pair[1].at_s - pair[0].at_s)
            .collect();
        lengths.sort_by(f64::total_cmp);
        lengths
            .get((lengths.len() as f64 * SHORTEST) as usize)
            .copied()
    };
    if line.len() < 5 {
        return None;
    }
    let (mark, space) = (shortest(true)?, shortest(false)?);
    let (short, long) = (mark.min(space), mark.max(space));
    // Beyond any bias: one condition never lasts a single unit in this text.
    Some(if long > 4.0 * short {
        short
    } else {
        (mark + space) / 2.0
    })
}

/// The unit, s, at which the line makes the best characters, and these; `rate_baud` if it is
/// known.
pub fn best(line: &[Edge], rate_baud: Option<f64>) -> Option<(f64, Framing)> {
    let rough_s = rough_unit_s(line)?;
    let units: Vec<f64> = match rate_baud {
        Some(rate) => vec![1.0 / rate],
        None => rates_baud()
            .map(|rate| 1.0 / rate)
            .filter(|unit| (0.6..1.6).contains(&(unit / rough_s)))
            .chain([rough_s])
            .collect(),
    };
    units
        .iter()
        .flat_map(|unit| BEGINNINGS.map(|b| b * unit))
        .map(|unit| (unit, frame(line, unit)))
        .max_by(|a, b| a.1.score.total_cmp(&b.1.score))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    /// Bias and speed may stand in for each other here, to a few percent: the fit tells them
    /// apart afterwards.
    #[test]
    fn every_known_rate_is_found_with_bias_and_speed_error() {
        for nominal in rates_baud() {
            for (bias, error) in [(0.0, 0.0), (0.4, 0.02), (-0.4, -0.02), (0.1, 0.05)] {
                let sending = Sending {
                    distortion: Distortion {
                        bias,
                        ..Distortion::default()
                    },
                    ..Sending::new(StartStop::new(nominal * (1.0 + error), 1.42))
                };
                let codes = Pattern::Combinations.at_least(100);
                let line = edges(&sending.line(&codes).expect("in range"));
                let (unit, framing) = best(&line, None).expect("long enough");
                let off = unit * nominal * (1.0 + error) - 1.0;
                assert!(off.abs() < 0.08, "{nominal} {bias} {error}: {off}");
                let found: Vec<_> = framing.characters.iter().map(|c| c.code).collect();
                assert_eq!(found, codes);
            }
        }
    }

    #[test]
    fn names_of_rates() {
        assert_eq!(nominal_baud(45.3), Some(1.0 / 0.022));
        assert_eq!(nominal_baud(51.0), Some(50.0));
        assert_eq!(nominal_baud(65.0), None);
        assert_eq!(nominal_baud(f64::NAN), None);
    }
}
