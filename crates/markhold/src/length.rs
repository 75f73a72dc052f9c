//! A length of time on the command line.

use std::time::Duration;

/// As in `90s` or `5min`; at least a second, at most an hour.
pub fn length(words: &str) -> Result<Duration, String> {
    let units = [("min", 60.0), ("s", 1.0)];
    let found = units.iter().find_map(|(unit, seconds)| {
        let number = words.strip_suffix(unit)?.trim_end().parse::<f64>().ok()?;
        Some(number * seconds)
    });
    match found.filter(|seconds| (1.0..=3600.0).contains(seconds)) {
        Some(seconds) => Ok(Duration::from_secs_f64(seconds)),
        None => Err("expected a time from 1s to 60min, as in 90s or 5min".into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times() {
        assert_eq!(length("90s"), Ok(Duration::from_secs(90)));
        assert_eq!(length("1.5 min"), Ok(Duration::from_secs(90)));
        for bad in ["", "90", "0s", "61min", "NaNs", "-3s", "s", "1h"] {
            assert!(length(bad).is_err(), "{bad}");
        }
    }
}
