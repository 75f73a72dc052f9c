//! `markhold` alone: opens the desk.

mod inputs;
mod keeping;
mod machines;
mod options;
mod running;

pub use inputs::named as named_input;
pub use options::Options;
pub use running::run;
