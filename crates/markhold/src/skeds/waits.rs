//! What the settings file says of waiting for senders.

use crate::machine::Outfit;
use anyhow::{Context, bail};
use jiff::SignedDuration;
use markhold_skeds::watch::Waits;
use serde::Deserialize;
use std::path::PathBuf;
use toml::{Table, Value};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Keys {
    early_min: Option<f64>,
    late_min: Option<f64>,
    quiet_min: Option<f64>,
    overrun_min: Option<f64>,
}

/// From the settings file, the usual one unless another is named.
pub fn of(settings: Option<&PathBuf>) -> anyhow::Result<Waits> {
    let file = Outfit {
        settings: settings.cloned(),
        ..Outfit::default()
    };
    of_text(&file.read_settings()?).with_context(|| file.place())
}

/// From the settings file's text.
pub fn of_text(settings: &str) -> anyhow::Result<Waits> {
    let usual = Waits::default();
    let Some(table) = settings.parse::<Table>()?.remove("skeds") else {
        return Ok(usual);
    };
    let keys: Keys = Value::try_into(table)
        .map_err(|error: toml::de::Error| anyhow::anyhow!("[skeds]: {}", error.message()))?;
    Ok(Waits {
        early: minutes("early_min", keys.early_min, usual.early)?,
        late: minutes("late_min", keys.late_min, usual.late)?,
        quiet: minutes("quiet_min", keys.quiet_min, usual.quiet)?,
        overrun: minutes("overrun_min", keys.overrun_min, usual.overrun)?,
    })
}

fn minutes(key: &str, said: Option<f64>, usual: SignedDuration) -> anyhow::Result<SignedDuration> {
    match said {
        None => Ok(usual),
        Some(min) if (0.0..=1440.0).contains(&min) => {
            Ok(SignedDuration::from_secs((min * 60.0).round() as i64))
        }
        Some(min) => bail!("[skeds]: {key} is {min}: expected minutes from 0 to 1440"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_waits_of_a_settings_file() {
        assert_eq!(of_text("[shelf]\nlearn = true").unwrap(), Waits::default());
        let said = of_text("[skeds]\nearly_min = 1\nquiet_min = 0.5").unwrap();
        let expected = Waits {
            early: SignedDuration::from_mins(1),
            quiet: SignedDuration::from_secs(30),
            ..Waits::default()
        };
        assert_eq!(said, expected);
        for (bad, named) in [
            ("[skeds]\nlate_min = -1", "0 to 1440"),
            ("[skeds]\nlate_min = nan", "0 to 1440"),
            ("[skeds]\ncolour = 1", "unknown field"),
        ] {
            let error = format!("{:#}", of_text(bad).unwrap_err());
            assert!(error.contains(named), "{error}");
        }
    }
}
