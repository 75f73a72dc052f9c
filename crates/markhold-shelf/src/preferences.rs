//! What the settings file says of the shelf.
//!
//! ```toml
//! [shelf]
//! sound_limit = "40 GB" # most room for sound; the oldest goes first, copy stays
//! language = "on"       # off, mark or on: what language may do to the copy
//! learn = true          # what is sure in the copy teaches what to expect
//! ```

use markhold_event::LanguageUse;
use serde::Deserialize;
use toml::{Table, Value};

/// What is not in the file is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Preferences {
    /// Most bytes of sound on the shelf.
    pub sound_bytes: Option<u64>,
    /// What language may do to the copy that is kept.
    pub language: Option<LanguageUse>,
    /// Whether the shelf's own sure copy teaches what to expect.
    pub learn: Option<bool>,
}

/// What is wrong with the shelf's table.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("[shelf]: {0}")]
pub struct PreferencesError(String);

#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Keys {
    sound_limit: Option<String>,
    language: Option<String>,
    learn: Option<bool>,
}

impl Preferences {
    /// The shelf's table of a settings file; other tables are left alone.
    ///
    /// # Errors
    ///
    /// The first thing that does not do: what was found and what was expected.
    pub fn of_settings(settings: &str) -> Result<Self, PreferencesError> {
        let file = settings.parse::<Table>();
        let mut file = file.map_err(|error| PreferencesError(error.to_string()))?;
        let shelf = file.remove("shelf").unwrap_or(Value::Table(Table::new()));
        let keys: Keys = shelf
            .try_into()
            .map_err(|error: toml::de::Error| PreferencesError(error.message().to_string()))?;
        let sound_bytes = keys.sound_limit.map(|size| bytes(&size)).transpose();
        let language = keys.language.map(|word| {
            word.parse()
                .map_err(|_| format!("language = \"{word}\": expected off, mark or on"))
        });
        Ok(Preferences {
            sound_bytes: sound_bytes
                .map_err(|why| PreferencesError(format!("sound_limit: {why}")))?,
            language: language.transpose().map_err(PreferencesError)?,
            learn: keys.learn,
        })
    }
}

/// Units of room, in bytes.
const UNITS: [(&str, f64); 6] = [
    ("MB", 1e6),
    ("GB", 1e9),
    ("TB", 1e12),
    ("MiB", 1_048_576.0),
    ("GiB", 1_073_741_824.0),
    ("TiB", 1_099_511_627_776.0),
];

/// The least room, bytes: a few minutes.
const LEAST: f64 = 10e6;

/// Bytes of a size such as `40 GB`.
///
/// # Errors
///
/// What was found and what was expected.
pub fn bytes(size: &str) -> Result<u64, String> {
    let wrong =
        || format!("\"{size}\" is no room for sound: expected a number from 10 MB on, as in 40 GB");
    let size = size.trim();
    let (number, unit) = size.split_at(size.find(char::is_alphabetic).ok_or_else(wrong)?);
    let number: f64 = number.trim().parse().map_err(|_| wrong())?;
    let unit = UNITS
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(unit));
    let bytes = number * unit.ok_or_else(wrong)?.1;
    match (LEAST..=i64::MAX as f64).contains(&bytes) {
        true => Ok(bytes as u64),
        false => Err(wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shelf_of_a_settings_file() {
        let none = Preferences::of_settings("[machine.shack]\ncolumns = 74").unwrap();
        assert_eq!(none, Preferences::default());
        let all = "[shelf]\nsound_limit = \"1.5 GB\"\nlanguage = \"mark\"\nlearn = true";
        assert_eq!(
            Preferences::of_settings(all).unwrap(),
            Preferences {
                sound_bytes: Some(1_500_000_000),
                language: Some(LanguageUse::Mark),
                learn: Some(true),
            }
        );
    }

    #[test]
    fn what_is_wrong_is_told() {
        for (settings, said) in [
            ("[shelf]\nlimit = 3", "unknown field `limit`"),
            ("[shelf]\nsound_limit = \"9 MB\"", "from 10 MB on"),
            ("[shelf]\nlanguage = \"yes\"", "expected off, mark or on"),
            ("[shelf]\nlearn = 1", "expected a boolean"),
            ("shelf = 3", "[shelf]"),
            ("[shelf", "[shelf]"),
        ] {
            let error = Preferences::of_settings(settings).unwrap_err().to_string();
            assert!(error.contains(said), "{settings}: {error}");
        }
    }

    #[test]
    fn room_has_units() {
        for (size, expected) in [
            ("10 MB", Some(10_000_000)),
            ("20GiB", Some(20 << 30)),
            (" 0.5 tb ", Some(500_000_000_000)),
            ("40", None),
            ("GB", None),
            ("-4 GB", None),
            ("nan GB", None),
            ("4 KB", None),
            ("1e30 TB", None),
        ] {
            assert_eq!(bytes(size).ok(), expected, "{size}");
        }
    }
}
