//! `markhold` alone: opens the desk.

mod forget;
mod options;
mod running;

pub use options::Options;
pub use running::run;
