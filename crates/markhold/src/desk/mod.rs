//! `markhold` alone: opens the desk.

mod inputs;
mod options;
mod running;

pub use options::Options;
pub use running::run;
