//! Where live sound comes from.

mod played;

pub use played::{FileSource, Pace};

use serde::{Deserialize, Serialize};
use std::time::Duration;

/// Longest wait of [`Source::take`]: wishes are looked at in between.
pub const PATIENCE: Duration = Duration::from_millis(50);

/// Most samples that one [`Source::take`] should give, as seconds of sound: a twenty-fifth
/// of a second, so that pictures move at 25 a second.
pub const BLOCK_S: f64 = 0.02;

/// What [`Source::take`] came back with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// The block holds the next samples.
    Sound,
    /// Nothing yet; ask again.
    Nothing,
    /// Samples were lost between what was given before and what comes next.
    Gap {
        /// How many, as closely as is known.
        lost: u64,
    },
    /// Samples were lost, and nobody knows how many.
    Lost,
    /// The source stopped giving sound but may come back; keep asking.
    Gone {
        /// Why, in words.
        why: String,
    },
    /// The source is there again, perhaps at another [`Source::rate`].
    Back {
        /// Samples lost meanwhile, at the rate before.
        lost: u64,
    },
    /// Nothing more will come.
    Ended {
        /// What went wrong, if it was not simply the end.
        why: Option<String>,
    },
}

/// The sideband that the receiver is set to. It decides which way its dial moves the tones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sideband {
    /// Audio is the dial less the radio frequency: turning up moves tones up.
    Lower,
    /// Audio is the radio frequency less the dial: turning up moves tones down.
    Upper,
}

/// Blocks of one channel of samples, full scale 1.0, with their rate.
pub trait Source: Send {
    /// The name that a person knows it by.
    fn name(&self) -> String;

    /// Samples a second, Hz, 6000 to 192 000. Changes only with [`Taken::Back`].
    fn rate(&self) -> u32;

    /// Whether samples that are not taken in time are lost. A source that is not live is
    /// waited for by everything behind it.
    fn is_live(&self) -> bool;

    /// Waits for sound, not much longer than [`PATIENCE`]. With [`Taken::Sound`] `block`
    /// holds about [`BLOCK_S`] of it; otherwise `block` means nothing.
    fn take(&mut self, block: &mut Vec<f32>) -> Taken;
}
