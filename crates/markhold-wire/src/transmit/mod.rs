//! Sending: text to a keyed transmitter, an over at a time.
//!
//! ```text
//! text -> writer: identification, line discipline, idle -> pieces -> transmitter -> way to the air
//!
//! an over: key, wait, mark, pieces, mark, wait, unkey
//! ```
//!
//! * [`TransmitterPlan`]: how the transmitter is fed and keyed, as the settings file has it.
//! * [`Arming`]: a person's leave to send, for a stated time. Without it nothing is keyed.
//! * [`Transmitter`]: the open way and key; plays an over.
//! * [`OffSwitch`]: unkeys at once, from any thread.
//! * [`Writer`]: text to pieces, by the same discipline as for a machine.
//!
//! A second process, the [guardian](crate::guard), holds the transmitter's key as well and lets
//! it go when this one dies, hangs, or keys it without sending.
//!
//! **Caution:** a keyed transmitter is on the air, and its radio-frequency field can hurt. Your
//! licence, the band plan and local rules decide what may be sent, where, when and by whom; they
//! come before anything said here.

mod aim;
mod arming;
mod cable;
mod identity;
mod in_file;
mod key;
mod key_words;
mod morse;
mod piece;
mod plan;
mod tones_from;
mod transmitter;
mod writer;

pub use arming::Arming;
pub use cable::Cable;
pub use identity::{Identity, is_call};
pub use key::OffSwitch;
pub use key_words::{KeyWords, KeysKnown};
pub use morse::morse;
pub use piece::{Given, Piece, Script, TextGiven, Typed};
pub use plan::{Idle, PlanError, TransmitterPlan};
pub use tones_from::TonesFrom;
pub use transmitter::{Ended, Over, Transmitter};
pub use writer::Writer;
