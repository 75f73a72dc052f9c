//! Sound: samples of one channel with their rate and position.
//!
//! [`SoundReader`] opens a file or a pipe and gives mono blocks. What the file is, is
//! read from its content, never from its name:
//!
//! * WAV (also RF64 and BW64, and streams whose length is not stated) by a parser of our
//!   own, because a recording that was cut off must still be read;
//! * FLAC, Ogg (Vorbis or FLAC inside) and MP3 by the Symphonia library;
//! * raw samples, when the caller says what they are ([`RawFormat`]).
//!
//! Samples are -1 to 1 at full scale. What is wrong but can be lived with is a
//! [`Notice`]; what ends the reading is a [`SoundError`], and everything before it is
//! handed out first.
//!
//! [`WavWriter`] writes WAV that is valid after every flush; [`repair_wav`] finds what a
//! crash left after the last one.

mod bext;
mod compressed;
mod decode;
mod detect;
mod error;
mod notice;
mod open;
mod pcm;
mod raw;
mod reader;
mod repair;
mod riff;
mod sample;
mod source;
mod tally;
mod wav;
mod wav_writer;

pub use bext::{Bext, TimeStamp};
pub use error::SoundError;
pub use notice::Notice;
pub use open::{create_file, open_file};
pub use raw::{RawFormat, RawFormatError};
pub use reader::{ReadOptions, SoundReader};
pub use repair::{Repaired, repair_wav};
pub use sample::Encoding;
pub use wav_writer::{WavSpec, WavWriter};

/// Lowest sample rate accepted, Hz.
///
/// The tones of the usual pairs reach 2975 Hz (2125 Hz + 850 Hz shift); 6000 Hz is the
/// lowest round rate that can hold them.
pub const MIN_RATE: u32 = 6_000;

/// Highest sample rate accepted, Hz: the highest that common sound hardware offers.
pub const MAX_RATE: u32 = 192_000;

/// Most channels accepted in one file.
///
/// Multi-track recorders write 32 at most; a larger number is nearly always a damaged
/// header.
pub const MAX_CHANNELS: u16 = 32;
