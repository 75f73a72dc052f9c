//! One channel of sound from a file or a pipe.

use super::bext::Bext;
use super::compressed::CompressedReader;
use super::decode::{Decode, Info, pick_channel};
use super::detect::{Kind, detect};
use super::open::open_file;
use super::pcm::{Layout, PcmReader};
use super::source::ByteSource;
use super::tally::Tally;
use super::wav::WavReader;
use super::{Notice, RawFormat, SoundError};
use std::io::Read;
use std::path::Path;

/// How to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct ReadOptions {
    /// The channel to read, counted from 1; the first where left out.
    pub channel: Option<u16>,
    /// What the samples are, where they come bare. The content is then not looked at.
    pub raw: Option<RawFormat>,
}

/// Reads one channel of sound, block by block, in constant memory.
///
/// ```no_run
/// use markhold_sound::{ReadOptions, SoundReader};
/// # fn main() -> Result<(), markhold_sound::SoundError> {
/// let mut sound = SoundReader::open("evening.wav".as_ref(), &ReadOptions::default())?;
/// let mut block = [0.0; 4096];
/// loop {
///     let count = sound.read(&mut block)?;
///     if count == 0 {
///         break;
///     }
///     // block[..count] goes to the receiver.
/// }
/// # Ok(())
/// # }
/// ```
pub struct SoundReader {
    // Configured.
    decoder: Box<dyn Decode>,
    channel: u16,
    // State.
    tally: Tally,
    ended: bool,
}

impl SoundReader {
    /// Opens a file (or a named pipe). Errors: all that [`SoundError`] names.
    pub fn open(path: &Path, options: &ReadOptions) -> Result<Self, SoundError> {
        let file = open_file(path)?;
        let about = file.metadata()?;
        if about.is_dir() {
            return Err(SoundError::IsFolder);
        }
        let length = about.is_file().then_some(about.len());
        Self::new(ByteSource::new(Box::new(file), length), options)
    }

    /// Reads from a pipe or anything else that gives bytes.
    pub fn from_read(
        input: impl Read + Send + 'static,
        options: &ReadOptions,
    ) -> Result<Self, SoundError> {
        Self::new(ByteSource::new(Box::new(input), None), options)
    }

    fn new(mut source: ByteSource, options: &ReadOptions) -> Result<Self, SoundError> {
        let channel = options.channel.unwrap_or(1);
        let head = source.peek()?;
        if head.is_empty() {
            return Err(SoundError::Empty);
        }
        let decoder: Box<dyn Decode> = match (options.raw, detect(head)) {
            (Some(format), _) => Box::new(RawReader::new(source, format, channel)?),
            (None, Kind::Wav) => Box::new(WavReader::new(source, channel)?),
            (None, Kind::Flac) => Box::new(CompressedReader::flac(source, channel)?),
            (None, Kind::Mp3) => Box::new(CompressedReader::mp3(source, channel)?),
            (None, Kind::Ogg) => Box::new(CompressedReader::ogg(source, channel)?),
            (None, Kind::Other(looks_like)) => return Err(SoundError::NotSound { looks_like }),
        };
        Ok(SoundReader {
            tally: Tally::new(decoder.info().full_scale),
            decoder,
            channel,
            ended: false,
        })
    }

    /// Fills the beginning of `block` and returns how many samples were put there.
    ///
    /// As with [`std::io::Read`], fewer samples than fit are no sign of the end: a pipe
    /// gives what it has. 0 means the end (or an empty `block`). After an error only 0
    /// comes; all samples before it have been handed out by then.
    pub fn read(&mut self, block: &mut [f32]) -> Result<usize, SoundError> {
        if self.ended || block.is_empty() {
            return Ok(0);
        }
        let result = self.decoder.read(block);
        match result {
            Ok(count @ 1..) => {
                self.tally.process(&mut block[..count]);
                Ok(count)
            }
            Ok(0) if self.position() == 0 => self.end(Err(SoundError::NoSamples)),
            other => self.end(other),
        }
    }

    fn end(&mut self, how: Result<usize, SoundError>) -> Result<usize, SoundError> {
        self.ended = true;
        how
    }

    /// Samples per second, Hz.
    pub fn rate(&self) -> u32 {
        self.decoder.info().rate
    }

    /// Channels in the source, of which one is read.
    pub fn channels(&self) -> u16 {
        self.decoder.info().channels
    }

    /// The channel that is read, counted from 1.
    pub fn channel(&self) -> u16 {
        self.channel
    }

    /// Frames in the whole source, where that can be told beforehand. A header's word:
    /// good for a progress bar, not for allocating.
    pub fn len_hint(&self) -> Option<u64> {
        self.decoder.info().len_hint
    }

    /// Samples read so far.
    pub fn position(&self) -> u64 {
        self.tally.samples()
    }

    /// The broadcast extension of a WAV file, with the time its first sample was heard.
    pub fn bext(&self) -> Option<&Bext> {
        self.decoder.info().bext.as_ref()
    }

    /// Share of the samples read so far that stand in a run at full scale, 0 to 1.
    pub fn clipped_share(&self) -> f64 {
        self.tally.clipped_share()
    }

    /// What should be told about the recording as far as it was read; complete after the
    /// end.
    pub fn notices(&self) -> Vec<Notice> {
        let mut notices = Vec::new();
        self.decoder.notices(self.position(), &mut notices);
        self.tally.notices(&mut notices);
        notices
    }

    /// A line about the source, such as "WAV, 16-bit, 48000 Hz, channel 1 of 2".
    pub fn describe(&self) -> String {
        let info = self.decoder.info();
        let channel = match info.channels {
            1 => "one channel".to_string(),
            count => format!("channel {} of {count}", self.channel),
        };
        format!(
            "{}, {}, {} Hz, {channel}",
            info.kind, info.precision, info.rate
        )
    }
}

struct RawReader {
    info: Info,
    frames: PcmReader<ByteSource>,
}

impl RawReader {
    fn new(source: ByteSource, format: RawFormat, channel: u16) -> Result<Self, SoundError> {
        let layout = Layout {
            encoding: format.encoding,
            channels: super::error::check_channels(u64::from(format.channels))?,
        };
        let info = Info {
            kind: "raw samples",
            precision: layout.encoding.name(),
            rate: super::error::check_rate(u64::from(format.rate))?,
            channels: layout.channels,
            full_scale: layout.encoding.full_scale(),
            len_hint: source
                .length()
                .map(|bytes| bytes / layout.frame_bytes() as u64),
            bext: None,
        };
        let channel = pick_channel(channel, layout.channels)?;
        Ok(RawReader {
            info,
            frames: PcmReader::new(source, layout, channel, None),
        })
    }
}

impl Decode for RawReader {
    fn info(&self) -> &Info {
        &self.info
    }

    fn read(&mut self, out: &mut [f32]) -> Result<usize, SoundError> {
        self.frames.read(out)
    }

    fn notices(&self, _frames: u64, _to: &mut Vec<Notice>) {}
}
