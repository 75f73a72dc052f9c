//! A machine's own keyboard: what is typed on it, read from its line.
//!
//! ```text
//!   line -> KeyboardLine --Heard--> Echo: typed here, or printed from here? --> Typist -> text
//!           serial words           ^                                            (break: stop)
//!           status wire + Framer   | every code that is sent to the machine
//!           plain codes
//! ```
//!
//! * [`KeyboardLine`]: where strokes come from. [`PortKeyboard`] is a port that reads five-unit
//!   words itself, [`WireKeyboard`] a status wire framed by a [`Framer`], [`BytesKeyboard`] plain
//!   codes of a pipe, a pseudo terminal or a file.
//! * [`Echo`]: in a local loop the machine's own printing comes back by the keyboard's line.
//! * [`Typist`]: codes to text, in the shift in which the machine stands.
//! * [`KeyboardPlan`]: all of it, as the settings file has it.
//!
//! **Caution:** the contact of a keyboard in a loop carries the loop's voltage, up to 180 V. The
//! port sees it by an opto-coupler or a relay rated for it, never by a wire (see
//! [the machine's caution](crate)).

mod bytes;
mod echo;
mod framer;
mod line;
mod marked;
mod plan;
mod port;
mod typist;
mod wire;
mod words;

pub use bytes::BytesKeyboard;
pub use echo::{Echo, Echoed, Judged};
pub use framer::{Framed, Framer, MARGIN};
pub use line::{Heard, KeyboardLine, Stroke, told};
pub use marked::Marked;
pub use plan::{EchoIs, KeyboardError, KeyboardPlan};
pub use port::PortKeyboard;
pub use typist::{Typed, Typist};
pub use wire::WireKeyboard;
pub use words::{KeyboardWords, KeyboardsKnown};
