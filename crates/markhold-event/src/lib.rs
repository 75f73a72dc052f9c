//! What is told of copy: signals found, characters read, signals ended.
//!
//! * [`Event`]: one thing told; the order in which they come.
//! * [`Signal`]: what is known of one signal.
//! * [`Character`]: one character of copy, with all that may have been sent instead.
//! * [`CharacterId`]: one identity for all readings of a character; [`Names`] gives it.
//! * [`Codes`]: the likelihoods of all codes, packed.
//! * [`Key`]: a character among those of all stations.
//! * [`SentLine`]: a line that was sent from here.
//! * [`Number`], [`word`]: how numbers and words are written.
//!
//! Times are seconds from a named origin, frequencies hertz of audio. The receiver tells
//! these, everything else listens. All types are written by serde in one form, both ways;
//! for programs it carries [`VERSION`]. The crate knows five-unit codes and nothing else.

mod character;
mod codes;
mod doubt;
mod event;
mod form;
mod id;
mod key;
mod language;
mod sent;
mod signal;
pub mod word;

pub use character::{Alternative, Character, Witnesses};
pub use codes::Codes;
pub use doubt::Doubt;
pub use event::{Event, VERSION};
pub use form::{Number, rounded};
pub use id::{CharacterId, Names};
pub use key::{Key, KeyError, StationId};
pub use language::LanguageUse;
pub use markhold_code::Sense;
pub use sent::SentLine;
pub use signal::{Signal, SignalId};
