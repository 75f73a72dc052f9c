//! The outside world: where sound comes from, where it is kept, and what listens to it live.
//!
//! The signal crates know no files, devices, threads or clocks; this crate does.
//!
//! * [`sound`]: one channel of samples with their rate and position, from a file or a pipe,
//!   and the writer that keeps what was heard.
//! * [`device`]: sound devices, listed by name, listened to and played on.
//! * [`live`]: sound as it comes, kept, copied and shown at the same time.
//! * [`machine`]: the ways from five-unit codes to a machine's line.
//! * [`objects`]: signals and characters as JSON objects.
//! * [`shelf`]: every evening kept: its sound, its copy, what was found.

pub mod device;
pub mod live;
pub mod machine;
pub mod objects;
pub mod shelf;
pub mod sound;
