//! Sound: where samples of one channel come from, and how they are kept.
//!
//! The signal crates know no files, devices, threads or clocks; this crate does.
//!
//! * [`file`]: sound in files and pipes, read and written; its types stand here at the root.
//! * [`device`]: sound devices, listed by name and listened to.
//! * [`source`]: live sound, whatever it comes from.

pub mod device;
pub mod file;
pub mod source;

pub use file::{
    Bext, Encoding, MAX_CHANNELS, MAX_RATE, MIN_RATE, Notice, RawFormat, RawFormatError,
    ReadOptions, Repaired, SoundError, SoundReader, TimeStamp, WavSpec, WavWriter, create_file,
    open_file, repair_wav,
};
pub use source::{FileSource, Pace, Sideband, Source, Taken};
