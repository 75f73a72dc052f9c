//! Sound devices.

mod output;

pub use output::{SoundOutput, outputs};
