//! Finds and copies start-stop five-unit FSK: samples in, timed characters with
//! probabilities out.
//!
//! # The road
//!
//! 1. **band**: overlapping spectra of the sound ([`markhold_signal::Band`]).
//! 2. **pair**: the two tones of one signal, followed ([`pair`]).
//! 3. **elements**: log likelihood ratios, never decisions ([`elements`]).
//! 4. **characters**: start-stop framing as one sequence decision ([`characters`]).
//! 5. **copy**: timed characters, vouched for ([`copy`]).
//! 6. **text**: what they mean, with probabilities ([`text`], [`event`]).

pub mod characters;
pub mod copy;
pub mod dither;
pub mod elements;
pub mod event;
pub mod levelled;
pub mod pair;
mod receiver;
pub mod search;
pub mod senders;
pub mod settings;
pub mod text;

pub use receiver::Receiver;
pub use settings::{Settings, SettingsError};
