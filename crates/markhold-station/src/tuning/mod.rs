//! Tuning: one instruction in words that can be read across a room, and that holds.
//!
//! ```text
//! spectra -> sight (a pair) -> alternation (one sender?) --+
//!            floor -> edges -> aim (where tones belong)    +-> subject -> instruct -> advice -> words
//! receiver: what it follows and reads ---------------------+              mirror --+
//! spectra -> around (tones of others, and how they are keyed)
//! ```

mod advice;
mod aim;
mod alternation;
mod around;
mod candidate;
mod edges;
mod fault;
mod heard;
mod humps;
mod instruct;
mod mirror;
mod passband;
mod sight;
mod subject;
mod subjects;
mod tuner;
mod words;

pub use around::{Keying, Tone};
pub use fault::Fault;
pub use humps::{Hump, humps};
pub use instruct::dial_hz;
pub use passband::passband;
pub use sight::{Chosen, Lone, Seen, Sight};
pub use subject::FollowedNow;
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
        /// Whether turns before have moved the tones the other way than the sideband in use
        /// makes them, and this one takes that into account.
        is_mirrored: bool,
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
    /// Two signals lie over each other, and the copy suffers.
    Overlap,
    /// The sender pauses.
    Waiting {
        /// For how long it was not heard, s.
        silent_s: f64,
    },
    /// Something else comes first.
    Fault {
        /// What.
        fault: Fault,
    },
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

/// Tones that have moved by less are drawn where they were, Hz.
const DRAWN_HZ: f64 = 2.0;

impl Tuning {
    /// Whether a person can see that this is another instruction, or that the tones, the filter or the
    /// aim are elsewhere.
    pub fn differs_from(&self, other: &Tuning) -> bool {
        let apart = |a: f64, b: f64| (a - b).abs() > DRAWN_HZ;
        let moved = |a: Option<[f64; 2]>, b: Option<[f64; 2]>| match (a, b) {
            (Some(a), Some(b)) => apart(a[0], b[0]) || apart(a[1], b[1]),
            (a, b) => a.is_some() != b.is_some(),
        };
        self.words != other.words
            || moved(self.tones_hz, other.tones_hz)
            || moved(self.passband_hz, other.passband_hz)
            || apart(self.target_hz, other.target_hz)
    }
}
