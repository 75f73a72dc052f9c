//! What is set of receiver and tuning.

use markhold_code::FiguresRow;
use markhold_event::LanguageUse;
use markhold_event::Sense;
use markhold_receive::Settings;
use markhold_sound::Sideband;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What is forced; what is `None` is found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Hold {
    /// Copy the signal whose middle lies nearest to this audio frequency, Hz.
    pub at_hz: Option<f64>,
    /// Distance of the tones, Hz, 85 to 1000.
    pub shift_hz: Option<f64>,
    /// Modulation rate, baud, 40 to 110.
    pub rate_baud: Option<f64>,
    /// Which tone is mark: "lower" or "higher".
    #[serde(with = "markhold_event::word::option")]
    pub sense: Option<Sense>,
}

/// Where the person wants the tones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Target {
    /// In the middle of what the receiver lets through, as heard.
    #[default]
    Passband,
    /// With the middle of the two tones here, Hz of audio; for instance 2210 for a terminal
    /// unit of 2125 and 2295 Hz.
    Middle(f64),
}

/// Everything that is set at present.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct InUse {
    /// What is forced on the receiver.
    pub hold: Hold,
    /// The sideband in use, where known.
    pub sideband: Option<Sideband>,
    /// Where the tones should be.
    pub target: Target,
    /// Figures row, "ITA2" or "US"; found if it is not forced.
    #[serde(with = "markhold_event::word::option")]
    pub figures_row: Option<FiguresRow>,
    /// Whether a space returns to letters; found if it is not forced.
    pub unshift_on_space: Option<bool>,
    /// Copy every signal rather than only the strongest or the held one.
    pub all: bool,
    /// Report a first reading of every character at once.
    pub early: bool,
    /// What language may do to decided characters, and so to what is kept; first readings
    /// never ask it. "off", "mark" or "on".
    #[serde(with = "markhold_event::word")]
    pub language: LanguageUse,
}

impl Default for InUse {
    /// Everything is found; first readings are told; language joins the decided ones.
    fn default() -> Self {
        InUse {
            hold: Hold::default(),
            sideband: None,
            target: Target::default(),
            figures_row: None,
            unshift_on_space: None,
            all: false,
            early: true,
            language: LanguageUse::On,
        }
    }
}

impl InUse {
    /// What the receiver is told.
    pub fn settings(&self) -> Settings {
        Settings {
            at_hz: self.hold.at_hz,
            shift_hz: self.hold.shift_hz,
            rate_baud: self.hold.rate_baud,
            sense: self.hold.sense,
            figures_row: self.figures_row,
            unshift_on_space: self.unshift_on_space,
            all: self.all,
            early: self.early,
            language: self.language,
            ..Settings::default()
        }
    }
}

impl InUse {
    /// What is set after a merge patch.
    ///
    /// # Errors
    ///
    /// What in the patch is no setting, in words.
    pub fn changed(&self, patch: &Value) -> Result<InUse, String> {
        let mut all = serde_json::to_value(self).map_err(|e| e.to_string())?;
        merge(&mut all, patch);
        serde_json::from_value(all).map_err(|e| e.to_string())
    }
}

/// RFC 7396, section 2, but that null sets to null: what is optional here is null where it is
/// not set.
fn merge(target: &mut Value, patch: &Value) {
    match (target, patch) {
        (Value::Object(target), Value::Object(patch)) => {
            for (key, value) in patch {
                merge(target.entry(key.clone()).or_insert(Value::Null), value);
            }
        }
        (target, patch) => *target = patch.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_change_leaves_the_rest() {
        let before = InUse {
            hold: Hold {
                at_hz: Some(1500.0),
                ..Hold::default()
            },
            all: true,
            ..InUse::default()
        };
        let patch = json!({ "hold": { "sense": "higher" }, "target": { "middle": 2210.0 } });
        let expected = InUse {
            hold: Hold {
                sense: Some(Sense::HigherTone),
                ..before.hold
            },
            target: Target::Middle(2210.0),
            ..before
        };
        assert_eq!(before.changed(&patch), Ok(expected));
        let back = json!({ "hold": { "at_hz": null, "sense": null }, "target": "passband" });
        let expected = InUse {
            hold: Hold::default(),
            ..before
        };
        assert_eq!(expected.changed(&back), Ok(expected));
        assert_eq!(before.changed(&json!({})), Ok(before));
    }

    #[test]
    fn what_is_no_setting_is_named() {
        for (patch, named) in [
            (json!({ "holt": {} }), "holt"),
            (json!({ "hold": { "baud": 45 } }), "baud"),
            (json!({ "figures_row": "UK" }), "UK"),
            (json!(5), "5"),
        ] {
            let why = InUse::default().changed(&patch).expect_err("no setting");
            assert!(why.contains(named), "{why}");
        }
    }
}
