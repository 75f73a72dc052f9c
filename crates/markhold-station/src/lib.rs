//! The outside world: where sound comes from and where it is kept.
//!
//! The signal crates know no files, devices or clocks; this crate does.
//!
//! * [`sound`]: one channel of samples with their rate and position, from a file or a pipe.
//! * [`shelf`]: every evening kept: its sound, its copy, what was found.

pub mod device;
pub mod machine;
pub mod shelf;
pub mod sound;
