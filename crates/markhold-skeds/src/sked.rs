//! A scheduled transmission: who, what, when, on which frequencies.

use crate::{Place, SkedError, When};
use jiff::SignedDuration;
use serde::{Deserialize, Serialize};

/// The form in which skeds are written. A reader takes this one and all before it.
pub const VERSION: u32 = 1;

/// A scheduled transmission.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Form", into = "Form")]
pub struct Sked {
    /// Who sends it: a call sign or a name.
    pub station: String,
    /// What it is called.
    pub name: String,
    /// What is sent, in a few words; may be empty.
    pub sends: String,
    /// Where it is sent, all at the same time; the first is listened to unless another does better.
    pub channels: Vec<Channel>,
    /// Distance of the two tones, Hz.
    pub shift_hz: Option<f64>,
    /// Modulation rate, baud.
    pub rate_baud: Option<f64>,
    /// Which of the two radio frequencies is mark.
    pub mark: Option<MarkOnAir>,
    /// When it comes.
    pub when: When,
    /// How long it usually lasts, minutes, above 0.
    pub length_min: f64,
    /// Where the sender stands, as a [`crate::Place`] is written; may be empty.
    pub place: String,
    /// Anything else.
    pub notes: String,
    /// The machine that each of its bulletins is printed on once it was kept; empty: on none.
    pub print_on: String,
}

/// One frequency of a transmission.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Channel {
    /// The figure as published, kHz.
    pub khz: f64,
    /// What that figure means.
    #[serde(default)]
    pub means: Figure,
}

/// What the published figure of a frequency means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// The assigned frequency: half way between the two tones.
    #[default]
    Middle,
    /// The frequency of mark.
    Mark,
    /// The suppressed carrier of the lower sideband.
    LowerCarrier {
        /// The middle of the two tones in the sender's audio, Hz.
        pitch_hz: f64,
    },
    /// The suppressed carrier of the upper sideband.
    UpperCarrier {
        /// The middle of the two tones in the sender's audio, Hz.
        pitch_hz: f64,
    },
}

/// Which of the two radio frequencies is mark. The higher one is common practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkOnAir {
    /// The higher one.
    Higher,
    /// The lower one.
    Lower,
}

/// How a sked is written.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Form {
    version: u32,
    station: String,
    name: String,
    #[serde(default)]
    sends: String,
    channels: Vec<Channel>,
    #[serde(default)]
    shift_hz: Option<f64>,
    #[serde(default)]
    rate_baud: Option<f64>,
    #[serde(default)]
    mark: Option<MarkOnAir>,
    when: When,
    length_min: f64,
    #[serde(default)]
    place: String,
    #[serde(default)]
    notes: String,
    /// Left out where it is empty, so that an earlier version takes the others.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    print_on: String,
}

impl From<Sked> for Form {
    fn from(sked: Sked) -> Self {
        Form {
            version: VERSION,
            station: sked.station,
            name: sked.name,
            sends: sked.sends,
            channels: sked.channels,
            shift_hz: sked.shift_hz,
            rate_baud: sked.rate_baud,
            mark: sked.mark,
            when: sked.when,
            length_min: sked.length_min,
            place: sked.place,
            notes: sked.notes,
            print_on: sked.print_on,
        }
    }
}

impl TryFrom<Form> for Sked {
    type Error = SkedError;

    fn try_from(form: Form) -> Result<Self, SkedError> {
        if form.version > VERSION {
            return Err(SkedError::Newer {
                found: form.version,
                known: VERSION,
            });
        }
        let sked = Sked {
            station: form.station,
            name: form.name,
            sends: form.sends,
            channels: form.channels,
            shift_hz: form.shift_hz,
            rate_baud: form.rate_baud,
            mark: form.mark,
            when: form.when,
            length_min: form.length_min,
            place: form.place,
            notes: form.notes,
            print_on: form.print_on,
        };
        sked.check()?;
        Ok(sked)
    }
}

/// Longest transmission, minutes: a week.
const LONGEST_MIN: f64 = 7.0 * 24.0 * 60.0;

impl Sked {
    /// Whether its figures can be. Zone and rule are looked at by [`When::occurrences`].
    ///
    /// # Errors
    ///
    /// The first figure that cannot be.
    pub fn check(&self) -> Result<(), SkedError> {
        if self.name.trim().is_empty() && self.station.trim().is_empty() {
            return Err(SkedError::Value {
                what: "the name",
                found: "empty".into(),
                expected: "a name or a station, to know it by",
            });
        }
        let length = (
            "how long it lasts",
            self.length_min,
            f64::MIN_POSITIVE..=LONGEST_MIN,
        );
        within(length, "minutes from above 0 to a week, 10 080")?;
        for channel in &self.channels {
            let khz = ("the frequency", channel.khz, 10.0..=1e6);
            within(khz, "kHz from 10 to 1 000 000")?;
            if let Figure::LowerCarrier { pitch_hz } | Figure::UpperCarrier { pitch_hz } =
                channel.means
            {
                let pitch = ("the sender's audio pitch", pitch_hz, 50.0..=5000.0);
                within(pitch, "Hz from 50 to 5000")?;
            }
        }
        if !self.place.is_empty() {
            self.place.parse::<Place>()?;
        }
        if let Some(shift) = self.shift_hz {
            within(("the shift", shift, 10.0..=2000.0), "Hz from 10 to 2000")?;
        }
        if let Some(rate) = self.rate_baud {
            within(("the rate", rate, 20.0..=300.0), "baud from 20 to 300")?;
        }
        Ok(())
    }

    /// How long it usually lasts.
    pub fn length(&self) -> SignedDuration {
        SignedDuration::from_secs((self.length_min * 60.0).round() as i64)
    }

    /// What it is called where one word must do: its name, else its station.
    pub fn title(&self) -> &str {
        match self.name.trim().is_empty() {
            true => &self.station,
            false => &self.name,
        }
    }
}

fn within(
    (what, found, range): (&'static str, f64, std::ops::RangeInclusive<f64>),
    expected: &'static str,
) -> Result<(), SkedError> {
    match range.contains(&found) {
        true => Ok(()),
        false => Err(SkedError::Value {
            what,
            found: found.to_string(),
            expected,
        }),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn bulletin() -> Sked {
        Sked {
            station: "Q1LMC".into(),
            name: "Low Marsh bulletin".into(),
            sends: "club news".into(),
            channels: vec![
                Channel {
                    khz: 3595.2,
                    means: Figure::Mark,
                },
                Channel {
                    khz: 7047.79,
                    means: Figure::UpperCarrier { pitch_hz: 2210.0 },
                },
            ],
            shift_hz: Some(170.0),
            rate_baud: Some(45.45),
            mark: Some(MarkOnAir::Higher),
            when: When {
                zone: "Europe/London".into(),
                first: "2026-01-04T20:00:00".parse().unwrap(),
                rules: vec!["FREQ=WEEKLY;BYDAY=SU".into()],
                except: vec!["2026-12-27".parse().unwrap()],
                also: vec![],
            },
            length_min: 20.0,
            place: "JO02".into(),
            notes: "about nine, they say".into(),
            print_on: String::new(),
        }
    }

    #[test]
    fn one_form_both_ways() {
        let json = serde_json::to_string(&bulletin()).unwrap();
        assert!(
            json.contains("\"version\":1") && json.contains("2026-12-27\""),
            "{json}"
        );
        assert_eq!(serde_json::from_str::<Sked>(&json).unwrap(), bulletin());
    }

    #[test]
    fn what_cannot_be_is_said() {
        let json = serde_json::to_value(bulletin()).unwrap();
        let with = |key: &str, value: serde_json::Value| {
            let mut json = json.clone();
            json[key] = value;
            serde_json::from_value::<Sked>(json)
                .unwrap_err()
                .to_string()
        };
        for (key, value, said) in [
            ("version", 99.into(), "update markhold"),
            ("length_min", 0.0.into(), "minutes from above 0"),
            ("shift_hz", 5.into(), "Hz from 10 to 2000"),
            ("rate_baud", (-45.0).into(), "baud from 20 to 300"),
            ("channels", serde_json::json!([{"khz": 0}]), "kHz from 10"),
            ("channels", serde_json::json!([{"khz": 9e9}]), "kHz from 10"),
            ("place", "the marsh".into(), "locator"),
            ("colour", "red".into(), "unknown field"),
        ] {
            let error = with(key, value);
            assert!(error.contains(said), "{key}: {error}");
        }
    }
}
