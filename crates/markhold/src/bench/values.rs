//! Values with units, such as `60mA` and `2125,2295`.

/// A current: `60mA` or `0.06A`; in ampere.
pub fn current(text: &str) -> Result<f64, String> {
    let (number, scale) = match (text.strip_suffix("mA"), text.strip_suffix('A')) {
        (Some(number), _) => (number, 1e-3),
        (None, Some(number)) => (number, 1.0),
        (None, None) => return Err(format!("\"{text}\" has no unit; give 60mA or 0.06A")),
    };
    match number.trim().parse::<f64>() {
        Ok(value) if value.is_finite() && value > 0.0 => Ok(value * scale),
        _ => Err(format!(
            "\"{text}\" is not understood; give a current such as 60mA"
        )),
    }
}

/// Two tones, mark first: `2125,2295`; Hz.
pub fn tones(text: &str) -> Result<(f64, f64), String> {
    let numbers: Vec<f64> = text
        .split(',')
        .map_while(|word| word.trim().trim_end_matches("Hz").parse().ok())
        .filter(|hz: &f64| hz.is_finite() && *hz > 0.0)
        .collect();
    match numbers[..] {
        [mark, space] if mark != space && text.split(',').count() == 2 => Ok((mark, space)),
        _ => Err(format!(
            "\"{text}\" is not understood; give two different tones in Hz, mark first: 2125,2295"
        )),
    }
}

/// A number above 0.
pub fn above_zero(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() && value > 0.0 => Ok(value),
        _ => Err(format!(
            "\"{text}\" is not understood; give a number above 0"
        )),
    }
}

/// A modulation rate, 20 to 400 baud: slower and faster start-stop machines are not met
/// with (S.3 ends at 300 Bd, as in the references).
pub fn rate(text: &str) -> Result<f64, String> {
    within(text, 20.0, 400.0, "baud")
}

/// A stop element, 1 to 10 units.
pub fn stop(text: &str) -> Result<f64, String> {
    within(text, 1.0, 10.0, "units")
}

fn within(text: &str, least: f64, most: f64, unit: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if (least..=most).contains(&value) => Ok(value),
        _ => Err(format!("\"{text}\" found; give {least} to {most} {unit}")),
    }
}

/// The rate meant: 45.45 baud stands for elements of exactly 22 ms (common practice).
pub fn exact_rate(baud: f64) -> f64 {
    let exact = markhold_code::usual::RATES_BAUD[0];
    if (baud - exact).abs() < 0.01 {
        exact
    } else {
        baud
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn currents_need_a_unit() {
        assert_eq!(current("60mA"), Ok(0.06));
        assert_eq!(current("0.02 A"), Ok(0.02));
        for bad in ["60", "mA", "-5mA", "60 mV", "nanA"] {
            assert!(current(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn tones_are_two() {
        assert_eq!(tones("2125,2295"), Ok((2125.0, 2295.0)));
        assert_eq!(tones("2295Hz, 2125Hz"), Ok((2295.0, 2125.0)));
        for bad in ["2125", "1,2,3", "2125,2125", "a,b", "-1,2", ""] {
            assert!(tones(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn rates() {
        assert_eq!(exact_rate(45.45), 1.0 / 0.022);
        assert_eq!(exact_rate(50.0), 50.0);
        assert_eq!((rate("50"), stop("1.42")), (Ok(50.0), Ok(1.42)));
        assert!(rate("0").is_err() && rate("1e9").is_err() && stop("0.5").is_err());
        assert!(above_zero("0").is_err() && above_zero("nan").is_err());
    }
}
