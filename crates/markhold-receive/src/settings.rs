//! What a user may force. Everything left `None` is found from the sound.

use crate::event::Sense;
use markhold_code::FiguresRow;
use markhold_language::Learned;
use std::fmt;
use std::sync::Arc;

pub use crate::event::LanguageUse;

/// Settings of the receiver; the default finds everything.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Settings {
    /// Copy only the signal whose middle lies nearest to this audio frequency, Hz.
    pub at_hz: Option<f64>,
    /// Distance of the tones, Hz, 85 to 1000.
    pub shift_hz: Option<f64>,
    /// Modulation rate, baud, 40 to 110.
    pub rate_baud: Option<f64>,
    /// Which tone is mark.
    pub sense: Option<Sense>,
    /// Figures row of the senders; found by where their signs stand if it is not forced, and
    /// ITA2 until then.
    pub figures_row: Option<FiguresRow>,
    /// Whether a space returns to letters (common practice on many machines); found if it is
    /// not forced.
    pub unshift_on_space: Option<bool>,
    /// Report every signal rather than only the strongest.
    pub all: bool,
    /// Report a first reading of every character as soon as its stop element was heard.
    pub early: bool,
    /// Report readings that nothing vouched for as well, for those who weigh them against
    /// another copy.
    pub unlikely: bool,
    /// What language may do.
    pub language: LanguageUse,
    /// What the archive's own text taught, if anything.
    pub learned: Option<Arc<Learned>>,
}

/// A setting that cannot work.
#[derive(Clone, Debug, PartialEq)]
pub struct SettingsError {
    /// What was set, in words.
    pub what: &'static str,
    /// The value found.
    pub found: f64,
    /// Least and greatest value that work.
    pub allowed: (f64, f64),
    /// Unit of the values.
    pub unit: &'static str,
}

impl fmt::Display for SettingsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            what,
            found,
            allowed,
            unit,
        } = self;
        write!(
            f,
            "{what} is {found} {unit}, but must lie between {} and {} {unit}",
            allowed.0, allowed.1
        )
    }
}

impl std::error::Error for SettingsError {}

impl Settings {
    /// A signal that is asked for by [`Settings::at_hz`] lies with its middle this near, or within half
    /// its shift, Hz; of several the nearest is meant.
    pub const AT_WITHIN_HZ: f64 = 300.0;

    /// Checks that everything forced can be received in sound of `sample_rate`.
    pub fn check(&self, sample_rate: f64) -> Result<(), SettingsError> {
        let within = |what, unit, value: Option<f64>, low: f64, high: f64| match value {
            Some(found) if !(low..=high).contains(&found) => Err(SettingsError {
                what,
                found,
                allowed: (low, high),
                unit,
            }),
            _ => Ok(()),
        };
        within(
            "the sampling rate",
            "Hz",
            Some(sample_rate),
            6000.0,
            192_000.0,
        )?;
        within(
            "the forced frequency",
            "Hz",
            self.at_hz,
            200.0,
            0.45 * sample_rate,
        )?;
        within("the forced shift", "Hz", self.shift_hz, 85.0, 1000.0)?;
        within(
            "the forced modulation rate",
            "baud",
            self.rate_baud,
            40.0,
            110.0,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn says_what_was_found_and_what_is_allowed() {
        let settings = Settings {
            rate_baud: Some(300.0),
            ..Settings::default()
        };
        let error = settings
            .check(8000.0)
            .expect_err("300 baud is no start-stop rate here");
        let said = error.to_string();
        assert_eq!(
            said,
            "the forced modulation rate is 300 baud, but must lie between 40 and 110 baud"
        );
        for rate in [0.0, f64::NAN, 5999.0, 1e6] {
            assert!(Settings::default().check(rate).is_err(), "{rate}");
        }
        assert_eq!(Settings::default().check(8000.0), Ok(()));
    }
}
