//! What the receiver says, as [`markhold_event`] has it. Times are seconds from the first
//! sample given to the receiver.

pub use markhold_event::*;
