//! Several receivers of one transmission: their sound copied as one.
//!
//! ```text
//! each sound -> Listener      its signals, each copied by itself, and how each is followed
//!            -> transmissions which signals are one transmission, and how the clocks differ
//! all sounds -> Together      followed each by itself, framed as one, copied
//! ```
//!
//! Sound is heard twice: what its characters say tells how far the clocks are apart, which
//! nothing else does. Tones, senses and sampling rates may differ.

mod listener;
mod timing;
mod transmission;
mod walk;

pub use listener::{Listened, Listener};
pub use transmission::{Member, Transmission, transmissions};
pub use walk::Together;
