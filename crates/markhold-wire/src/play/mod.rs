//! Playing: orders for a machine, played on a way to its line.
//!
//! * [`Player`]: plays orders in a thread of its own; cancel, resume after an error.
//! * [`PaperRecord`]: what went to paper, kept.
//! * [`Setup`]: a machine of the settings file, and the way to it.

mod paper_record;
mod player;
#[cfg(test)]
mod player_tests;
mod queue;
mod setup;
mod way_words;

pub use paper_record::PaperRecord;
pub use player::{News, Patience, Player};
pub use setup::{Setup, SetupError, USUAL_PATIENCE_S, setup, setups};
pub use way_words::{Tones, WayWords, WaysKnown};
