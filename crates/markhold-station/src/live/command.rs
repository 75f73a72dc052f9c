//! What a person may ask of the live path while it runs.

use super::serial;
use super::source::Control;
use markhold_code::FiguresRow;
use markhold_receive::event::Sense;
use markhold_receive::settings::LanguageUse;
use markhold_receive::{Settings, SettingsError};
use serde::{Deserialize, Serialize};

/// The sideband that the receiver is set to. It decides which way its dial moves the tones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sideband {
    /// Audio is the dial less the radio frequency: turning up moves tones up.
    Lower,
    /// Audio is the radio frequency less the dial: turning up moves tones down.
    Upper,
}

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
    #[serde(with = "serial::sense")]
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
    /// Figures row: "ITA2" or "US".
    #[serde(with = "serial::row")]
    pub figures_row: FiguresRow,
    /// Whether a space returns to letters.
    pub unshift_on_space: bool,
    /// Copy every signal rather than only the strongest or the held one.
    pub all: bool,
    /// Report a first reading of every character at once.
    pub early: bool,
    /// What language may do to decided characters, and so to what is kept; first readings
    /// never ask it. "off", "mark" or "on".
    #[serde(with = "serial::language")]
    pub language: LanguageUse,
}

impl Default for InUse {
    /// Everything is found; first readings are told; language joins the decided ones.
    fn default() -> Self {
        InUse {
            hold: Hold::default(),
            sideband: None,
            target: Target::default(),
            figures_row: FiguresRow::default(),
            unshift_on_space: false,
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

/// A wish.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Command {
    /// Force this; what is `None` is found.
    Hold(Hold),
    /// Find everything again.
    LetGo,
    /// The receiver is set to this sideband.
    Sideband(Option<Sideband>),
    /// Where the tones should be.
    Target(Target),
    /// Change everything that is set at once.
    Set(InUse),
    /// Turn something on the source (practice band).
    Control(Control),
}

/// Why a wish cannot be granted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CommandError {
    /// A value that cannot work.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// The source cannot be turned like that.
    #[error("{0}")]
    Control(String),
    /// The live path has ended.
    #[error("listening has ended; start it again")]
    Stopped,
}
