//! Paper: copy, printed on a machine.
//!
//! * [`Printing`]: the machine that prints along, chosen, started and stopped.
//! * [`Paper`]: what a board tells on one machine, in a thread of its own.
//! * [`Feed`]: copy in, orders out; whose characters, which reading, what discipline.
//! * [`Readings`]: of the early and the final reading of each character, the one to send.

mod feed;
mod printing;
mod readings;
#[cfg(test)]
pub(crate) mod testing;
mod thread;

pub use feed::Feed;
pub use printing::Printing;
pub(crate) use printing::folder;
pub use readings::{Readings, Unlike};
pub(crate) use thread::{MOTOR_OFF, await_end, leave};
pub use thread::{Paper, PaperPlan, Tell};
