//! What a person may ask of the station, from a page, a terminal or anywhere else.

use crate::answering::Answer;
use crate::practice::Turned;
use crate::settings::{Hold, InUse, Target};
use markhold_receive::SettingsError;
use markhold_sound::Sideband;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A wish, as JSON `{"ask": ..., "value": ...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "ask", content = "value", rename_all = "kebab-case")]
pub enum Wish {
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
    /// Change some of what is set and leave the rest: a merge patch (RFC 7396) of [`InUse`] as
    /// JSON, such as `{"hold": {"at_hz": 2210}, "all": true}`. Who changes one thing cannot
    /// undo what somebody else changed meanwhile.
    Change(Value),
    /// Listen to the input of this id.
    Listen(String),
    /// Turn the practice receiver.
    Practice(Turned),
    /// Print on this machine.
    Print(PrintOn),
    /// Stop printing, within a character.
    StopPrinting,
    /// Wait so long for better readings, s.
    Patience(f64),
    /// Something about answering, which only a page that is known can ask.
    Answer(Answer),
}

/// What to print on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintOn {
    /// Name of the machine.
    pub machine: String,
    /// A way of [`crate::machines::Listing::ways`]; the machine's own if left out.
    #[serde(default)]
    pub way: Option<String>,
    /// How long a better reading is waited for, s, 0 to 60; as the machine has it if left
    /// out.
    #[serde(default)]
    pub patience_s: Option<f64>,
    /// What is sent from here is printed as well, between what is received.
    #[serde(default)]
    pub sent: bool,
}

/// Why a wish cannot be granted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WishError {
    /// A value that cannot work.
    #[error(transparent)]
    Settings(#[from] SettingsError),
    /// Something else, in words.
    #[error("{0}")]
    Cannot(String),
    /// The live path has ended.
    #[error("listening has ended; start it again")]
    Stopped,
}

impl From<String> for WishError {
    fn from(why: String) -> Self {
        WishError::Cannot(why)
    }
}

impl Wish {
    /// What is set after it, where it is a wish about that.
    ///
    /// # Errors
    ///
    /// What in a patch is no setting, in words.
    pub fn set(&self, mut in_use: InUse) -> Option<Result<InUse, WishError>> {
        match self {
            Wish::Hold(hold) => in_use.hold = *hold,
            Wish::LetGo => in_use.hold = Hold::default(),
            Wish::Sideband(sideband) => in_use.sideband = *sideband,
            Wish::Target(target) => in_use.target = *target,
            Wish::Set(all) => in_use = *all,
            Wish::Change(patch) => return Some(in_use.changed(patch).map_err(WishError::Cannot)),
            _ => return None,
        }
        Some(Ok(in_use))
    }
}
