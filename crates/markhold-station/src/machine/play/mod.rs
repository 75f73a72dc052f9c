//! Playing: orders for a machine, played on a way to its line.
//!
//! * [`Paper`]: all of it for the live path, in a thread of its own.
//! * [`Feed`]: copy in, orders out; whose characters, which reading, what discipline.
//! * [`Readings`]: of the early and the final reading of each character, the one to send.
//! * [`Player`]: plays orders in a thread of its own; cancel, resume after an error.
//! * [`PaperRecord`]: what went to paper, kept.
//! * [`Setup`]: a machine of the settings file, and the way to it.

mod feed;
mod paper;
mod paper_record;
mod player;
#[cfg(test)]
mod player_tests;
mod queue;
mod readings;
mod setup;
#[cfg(test)]
mod testing;
mod way_words;

pub use feed::Feed;
pub use paper::{Paper, PaperPlan, PaperState};
pub use paper_record::PaperRecord;
pub use player::{News, Patience, Player};
pub use readings::{Readings, Unlike};
pub use setup::{Setup, SetupError, Tones, USUAL_PATIENCE_S, setup, setups};
pub use way_words::{WayWords, WaysKnown};
