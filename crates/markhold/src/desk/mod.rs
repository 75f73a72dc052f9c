//! `markhold` alone: opens the desk.

mod inputs;
mod keeping;
mod options;
mod running;

pub use options::Options;
pub use running::run;
