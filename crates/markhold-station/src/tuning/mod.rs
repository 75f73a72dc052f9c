//! Tuning: one instruction in words that can be read across a room.

mod edges;
mod heard;
mod humps;
mod instruct;
mod passband;
mod sight;
mod tuner;
mod words;

pub use humps::{Hump, humps};
pub use instruct::{FollowedNow, Measured, Wanted, dial_hz, instruct};
pub use passband::passband;
pub use sight::{Lone, Seen, Sight};
pub use tuner::Tuner;
pub use words::words;

use serde::Serialize;

/// What to do with the dial.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "do")]
pub enum Instruction {
    /// No tones are heard.
    #[default]
    Nothing,
    /// Turn the dial by so many Hz, up being positive.
    Turn {
        /// Hz of the dial.
        dial_hz: f64,
    },
    /// Turn so that the tones move by so many Hz; the sideband in use is not known.
    Move {
        /// Hz of audio, up being positive.
        audio_hz: f64,
    },
    /// Only one of the two tones comes through, at the edge of the passband.
    OneTone {
        /// Hz of the dial (or of audio where the sideband is not known) that would bring in
        /// the other.
        turn: Option<f64>,
    },
    /// A tone that does not move: an idle signal, or a carrier.
    SteadyTone,
    /// Mark and space are swapped: the other sideband.
    OtherSideband,
    /// Two signals lie over each other.
    Overlap,
    /// All is well.
    InTune {
        /// How the tones move, Hz of audio a minute.
        drift_hz_per_min: f64,
    },
}

/// The instruction at present.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Tuning {
    /// Up to where the sound is taken in, live time, s.
    pub at_s: f64,
    /// What to do.
    #[serde(flatten)]
    pub instruction: Instruction,
    /// The same in words.
    pub words: String,
    /// The two tones as they are heard at this moment, Hz, lower first.
    pub tones_hz: Option<[f64; 2]>,
    /// Edges of what the receiver lets through, where they can be seen, Hz.
    pub passband_hz: Option<[f64; 2]>,
    /// Where their middle should be, Hz.
    pub target_hz: f64,
}
