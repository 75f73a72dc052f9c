//! Five-unit start-stop telegraphy: what the codes mean and how long they last.
//!
//! * [`Code`]: five elements, nothing more.
//! * [`Symbol`] and [`symbol`]: what a code means in a shift and a figures row.
//! * [`ShiftMachine`]: the receiving printer's memory of the last shift character.
//! * [`Carriage`]: from carriage return and line feed to new lines.
//! * [`encode`]: text to codes, for sending.
//! * [`Format`]: how many units and codes a start-stop code has.
//! * [`StartStop`]: element and character times.
//! * [`Tones`] and [`Sense`]: the two tones, and which of them is mark.
//! * [`Stretch`]: a keyed line, stretch by stretch.
//! * [`usual`]: the rates and shifts met with in practice.
//!
//! The crate depends on nothing and knows nothing of sound.

mod alphabet;
mod carriage;
mod code;
mod encode;
mod encode_error;
mod format;
mod shift;
mod start_stop;
mod stretch;
mod substitute;
mod tones;
pub mod usual;

pub use alphabet::{FiguresRow, Shift, Symbol, lookup, symbol};
pub use carriage::{Carriage, Step};
pub use code::Code;
pub use encode::{EncodeOptions, LineEnd, encode, encode_lossy};
pub use encode_error::{EncodeError, Suggestion};
pub use format::Format;
pub use shift::{ShiftMachine, decode};
pub use start_stop::StartStop;
pub use stretch::Stretch;
pub use substitute::needs_hyphen;
pub use tones::{Sense, Tones};
