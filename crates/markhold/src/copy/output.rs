//! Where events go: running text, lines of several signals, or JSON.

use crate::outcome::Outcome;
use jiff::civil::DateTime;
use markhold_event::Event;
use markhold_sound::{Notice, SoundError, SoundReader};
use std::io;

/// What is known about a file before it is read.
pub struct About<'a> {
    pub name: &'a str,
    /// Sample rate, Hz.
    pub rate: u32,
    /// The channel that is read, counted from 1.
    pub channel: u16,
    pub channels: u16,
    /// When the recording began, as the file itself states it.
    pub begin: Option<String>,
    /// The same on the recorder's clock.
    pub clock: Option<DateTime>,
}

impl<'a> About<'a> {
    pub fn new(name: &'a str, sound: &SoundReader) -> Self {
        let stamp = sound.bext().and_then(|bext| bext.time_stamp);
        About {
            name,
            rate: sound.rate(),
            channel: sound.channel(),
            channels: sound.channels(),
            begin: stamp.map(|stamp| stamp.begin_exact(sound.rate()).to_string()),
            clock: stamp.map(|stamp| stamp.begin_exact(sound.rate())),
        }
    }
}

/// What is known about a file after it was read.
pub struct End<'a> {
    pub name: &'a str,
    pub length_s: f64,
    pub signals: u64,
    pub characters: u64,
    pub notices: &'a [Notice],
    pub error: Option<&'a SoundError>,
}

/// Prints events. Nothing is lost or held back longer than [`Output::flush`] allows,
/// except that an output of lines may hold an unfinished line until [`Output::end`].
pub trait Output {
    fn begin(&mut self, about: &About) -> io::Result<()>;
    fn event(&mut self, event: &Event) -> io::Result<()>;
    /// The sound has been read to `sound_s`, s; events until there were told.
    fn at(&mut self, _sound_s: f64) -> io::Result<()> {
        Ok(())
    }
    fn end(&mut self, end: &End) -> io::Result<()>;
    fn flush(&mut self) -> io::Result<()>;
    /// All sounds were copied. What leaves slowly is waited for.
    fn close(&mut self) -> anyhow::Result<Outcome> {
        Ok(Outcome::NothingFound)
    }
}
