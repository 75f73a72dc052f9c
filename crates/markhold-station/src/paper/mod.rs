//! Paper: copy, printed on a machine.
//!
//! * [`Paper`]: all of it for the live path, in a thread of its own.
//! * [`Feed`]: copy in, orders out; whose characters, which reading, what discipline.
//! * [`Readings`]: of the early and the final reading of each character, the one to send.

mod feed;
mod printing;
mod readings;
#[cfg(test)]
mod testing;

pub use feed::Feed;
pub use printing::{Paper, PaperPlan, PaperState};
pub use readings::{Readings, Unlike};
