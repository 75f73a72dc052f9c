//! Finds and copies start-stop five-unit FSK: samples in, timed characters with
//! probabilities out.
//!
//! From outside: [`Receiver`], its [`Settings`], and what it says ([`markhold_event`]).
//!
//! # The road
//!
//! 1. **band**: overlapping spectra of the sound ([`markhold_signal::Band`]).
//! 2. **pair**: the two tones of one signal, followed (`pair`).
//! 3. **elements**: log likelihood ratios, never decisions (`elements`).
//! 4. **characters**: start-stop framing as one sequence decision (`characters`).
//! 5. **copy**: timed characters, vouched for (`copy`).
//! 6. **text**: what they mean, with probabilities (`text`, [`markhold_event`]).

// The inside: open for the benches and tests of this crate alone.
#[doc(hidden)]
pub mod characters;
#[doc(hidden)]
pub mod copy;
#[doc(hidden)]
pub mod copying;
#[doc(hidden)]
pub mod dither;
#[doc(hidden)]
pub mod elements;
#[doc(hidden)]
pub mod event;
#[doc(hidden)]
pub mod levelled;
#[doc(hidden)]
pub mod pair;
mod receiver;
#[doc(hidden)]
pub mod search;
#[doc(hidden)]
pub mod senders;
#[doc(hidden)]
pub mod settings;
#[doc(hidden)]
pub mod sums;
#[doc(hidden)]
pub mod text;
pub mod together;

pub use receiver::{Elsewhere, Receiver};
pub use settings::{Settings, SettingsError};
