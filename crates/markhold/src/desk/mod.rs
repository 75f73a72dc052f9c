//! `markhold` alone: opens the desk.

mod forget;
mod options;
mod running;
mod settings_kept;

pub use options::Options;
pub use running::run;
