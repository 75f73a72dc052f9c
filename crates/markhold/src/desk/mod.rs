//! `markhold` alone: opens the desk.

mod options;
mod running;

pub use options::Options;
pub use running::run;
