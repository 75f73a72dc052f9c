//! The outside world: where sound comes from and where it is kept.
//!
//! The signal crates know no files, devices or clocks; this crate does. For now it holds
//! the first stage of the road, [`sound`]: one channel of samples with their rate and
//! position, from a file or a pipe, and the writer that keeps what was heard.

pub mod device;
pub mod machine;
pub mod sound;
