//! FLAC, Ogg and MP3, decoded by the Symphonia library.
//!
//! A stretch that cannot be decoded becomes silence of the same length, so that the time
//! of everything after it stays right.

use super::decode::{Decode, Info, pick_channel};
use super::error::{check_channels, check_rate};
use super::source::ByteSource;
use super::{Notice, SoundError};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::sync::Mutex;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error;
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::packet::Packet;
use symphonia::default::formats::{FlacReader, MpaReader, OggReader};

/// Longest gap that is filled with silence, s.
///
/// Long enough for a bad stretch on a disk, short enough that a damaged time stamp cannot
/// turn a small file into years of silence.
const MAX_GAP_S: u64 = 60;

/// Reads one channel of FLAC, Ogg or MP3.
pub(super) struct CompressedReader {
    // Configured.
    info: Info,
    channel: usize,
    track_id: u32,
    // State.
    packets: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    /// Decoded samples of all channels, interleaved.
    block: Vec<f32>,
    /// First frame of `block` not yet handed out.
    block_at: usize,
    silence_left: u64,
    clock: Clock,
    gaps: u64,
    gap_frames: u64,
    frames: u64,
    ends_early: bool,
}

impl CompressedReader {
    /// Reads native FLAC.
    pub(super) fn flac(source: ByteSource, channel: u16) -> Result<Self, SoundError> {
        let reader = FlacReader::try_new(stream(source), FormatOptions::default());
        Self::new("FLAC", Box::new(reader.map_err(header_error)?), channel)
    }

    /// Reads Ogg with Vorbis or FLAC inside.
    pub(super) fn ogg(source: ByteSource, channel: u16) -> Result<Self, SoundError> {
        let reader = OggReader::try_new(stream(source), FormatOptions::default());
        Self::new("Ogg", Box::new(reader.map_err(header_error)?), channel)
    }

    /// Reads MP3.
    pub(super) fn mp3(source: ByteSource, channel: u16) -> Result<Self, SoundError> {
        let reader = MpaReader::try_new(stream(source), FormatOptions::default());
        Self::new("MP3", Box::new(reader.map_err(header_error)?), channel)
    }

    fn new(
        kind: &'static str,
        packets: Box<dyn FormatReader>,
        channel: u16,
    ) -> Result<Self, SoundError> {
        let Some(track) = packets.first_track(TrackType::Audio) else {
            let found = format!("something that is not sound, in {kind}");
            return Err(SoundError::Encoding { found });
        };
        let (info, decoder) = open_track(kind, track)?;
        Ok(CompressedReader {
            channel: usize::from(pick_channel(channel, info.channels)?),
            track_id: track.id,
            clock: Clock::new(info.rate),
            info,
            packets,
            decoder,
            block: Vec::new(),
            block_at: 0,
            silence_left: 0,
            gaps: 0,
            gap_frames: 0,
            frames: 0,
            ends_early: false,
        })
    }

    fn take_block(&mut self, out: &mut [f32]) -> usize {
        let channels = usize::from(self.info.channels);
        let frames = self.block.chunks_exact(channels).skip(self.block_at);
        let mut count = 0;
        for (frame, out) in frames.zip(out.iter_mut()) {
            *out = frame[self.channel];
            count += 1;
        }
        self.block_at += count;
        count
    }

    fn take_silence(&mut self, out: &mut [f32]) -> usize {
        let count = usize::try_from(self.silence_left)
            .unwrap_or(usize::MAX)
            .min(out.len());
        out[..count].fill(0.0);
        self.silence_left -= count as u64;
        count
    }

    /// Decodes the next packet of the track. `false` at the end.
    fn next_block(&mut self) -> Result<bool, SoundError> {
        let packet = match self.packets.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => return Ok(false),
            Err(Error::IoError(e)) if e.kind() == ErrorKind::UnexpectedEof => {
                self.ends_early = true;
                return Ok(false);
            }
            Err(error) => return Err(self.damaged(error)),
        };
        if packet.track_id == self.track_id {
            self.decode(&packet)?;
        }
        Ok(true)
    }

    fn decode(&mut self, packet: &Packet) -> Result<(), SoundError> {
        let decoded = match self.decoder.decode(packet) {
            Ok(decoded) => decoded,
            // The time stamp of the next packet tells how long the gap is.
            Err(Error::DecodeError(_)) => return Ok(()),
            Err(error) => return Err(self.damaged(error)),
        };
        let spec = decoded.spec();
        if spec.rate() != self.info.rate
            || spec.channels().count() != usize::from(self.info.channels)
        {
            let found = (spec.rate(), spec.channels().count());
            return Err(self.changed(found));
        }
        self.block.clear();
        self.block_at = 0;
        decoded.copy_to_vec_interleaved(&mut self.block);
        let frames = (self.block.len() / usize::from(self.info.channels)) as u64;
        let gap = self.clock.next(packet.pts.get(), frames);
        if gap > 0 {
            self.gaps += 1;
            self.gap_frames += gap;
            self.silence_left = gap;
        }
        Ok(())
    }

    fn changed(&self, (rate, channels): (u32, usize)) -> SoundError {
        SoundError::Damaged {
            at_s: self.seconds(self.frames),
            detail: format!(
                "the sound changes from {} Hz and {} channels to {rate} Hz and {channels}",
                self.info.rate, self.info.channels
            ),
        }
    }

    fn damaged(&self, error: Error) -> SoundError {
        match error {
            Error::IoError(e) => e.into(),
            other => SoundError::Damaged {
                at_s: self.seconds(self.frames),
                detail: other.to_string(),
            },
        }
    }

    fn seconds(&self, frames: u64) -> f64 {
        frames as f64 / f64::from(self.info.rate)
    }
}

impl Decode for CompressedReader {
    fn info(&self) -> &Info {
        &self.info
    }

    fn read(&mut self, out: &mut [f32]) -> Result<usize, SoundError> {
        loop {
            let count = match self.take_silence(out) {
                0 => self.take_block(out),
                count => count,
            };
            if count > 0 {
                self.frames += count as u64;
                return Ok(count);
            }
            if !self.next_block()? {
                return Ok(0);
            }
        }
    }

    fn notices(&self, frames: u64, to: &mut Vec<Notice>) {
        let stated = self.info.len_hint.unwrap_or(0);
        if self.ends_early || (frames > 0 && frames < stated) {
            to.push(Notice::EndsEarly {
                stated_s: self.seconds(stated.max(frames)),
                found_s: self.seconds(frames),
            });
        }
        if self.gaps > 0 {
            to.push(Notice::Gaps {
                count: self.gaps,
                length_s: self.seconds(self.gap_frames),
            });
        }
    }
}

/// Compares the time stamps of packets with the samples that came out of them.
struct Clock {
    max_gap: i64,
    /// Time stamp at which the next packet is due, in samples.
    due: Option<i64>,
}

impl Clock {
    fn new(rate: u32) -> Self {
        Clock {
            max_gap: (u64::from(rate) * MAX_GAP_S) as i64,
            due: None,
        }
    }

    /// Samples missing before the packet stamped `at`, which holds `frames` samples.
    fn next(&mut self, at: i64, frames: u64) -> u64 {
        // The first packet of Vorbis only primes the decoder.
        if frames == 0 {
            return 0;
        }
        let gap = at.saturating_sub(self.due.unwrap_or(at));
        let gap = if (1..=self.max_gap).contains(&gap) {
            gap
        } else {
            0
        };
        // After an impossible jump the packet's own stamp counts again.
        self.due = Some(at.saturating_add_unsigned(frames));
        gap.unsigned_abs()
    }
}

fn open_track(
    kind: &'static str,
    track: &Track,
) -> Result<(Info, Box<dyn AudioDecoder>), SoundError> {
    let Some(CodecParameters::Audio(params)) = &track.codec_params else {
        let found = format!("something that is not sound, in {kind}");
        return Err(SoundError::Encoding { found });
    };
    let channels = params.channels.as_ref().map_or(0, |c| c.count());
    let info = Info {
        kind,
        precision: precision(params),
        rate: check_rate(u64::from(params.sample_rate.unwrap_or(0)))?,
        channels: check_channels(channels as u64)?,
        full_scale: full_scale(params),
        len_hint: track.num_frames.filter(|frames| *frames > 0),
        bext: None,
    };
    let codecs = symphonia::default::get_codecs();
    let decoder = codecs.make_audio_decoder(params, &AudioDecoderOptions::default());
    Ok((info, decoder.map_err(header_error)?))
}

fn precision(params: &AudioCodecParameters) -> &'static str {
    match params.bits_per_sample {
        Some(8) => "8-bit",
        Some(16) => "16-bit",
        Some(24) => "24-bit",
        Some(_) => "lossless",
        None => "compressed",
    }
}

/// One step below 1.0 where the precision is known, as with bare integers.
fn full_scale(params: &AudioCodecParameters) -> f32 {
    match params.bits_per_sample {
        Some(bits @ 2..=24) => 1.0 - 0.5f32.powi(bits as i32 - 1),
        _ => 1.0,
    }
}

fn header_error(error: Error) -> SoundError {
    match error {
        Error::IoError(e) if e.kind() != ErrorKind::UnexpectedEof => e.into(),
        Error::Unsupported(what) => SoundError::Encoding {
            found: format!("an unknown compression ({what})"),
        },
        other => SoundError::Header {
            detail: other.to_string(),
        },
    }
}

fn stream(source: ByteSource) -> MediaSourceStream<'static> {
    MediaSourceStream::new(
        Box::new(OnlyForward(Mutex::new(source))),
        Default::default(),
    )
}

/// Gives a [`ByteSource`] to the library, which asks for `Sync` but never shares it; the
/// mutex is never locked.
struct OnlyForward(Mutex<ByteSource>);

impl Read for OnlyForward {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        let source = self
            .0
            .get_mut()
            .map_err(|_| io::Error::other("reader panicked"))?;
        source.read(out)
    }
}

impl Seek for OnlyForward {
    fn seek(&mut self, _: SeekFrom) -> io::Result<u64> {
        Err(ErrorKind::NotSeekable.into())
    }
}

impl MediaSource for OnlyForward {
    fn is_seekable(&self) -> bool {
        false
    }

    fn byte_len(&self) -> Option<u64> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_sees_gaps_and_refuses_impossible_ones() {
        let mut clock = Clock::new(8_000);
        assert_eq!(clock.next(500, 100), 0);
        assert_eq!(clock.next(600, 100), 0);
        assert_eq!(clock.next(1_000, 100), 300);
        assert_eq!(clock.next(900, 100), 0);
        assert_eq!(clock.next(1_000_000_000, 100), 0);
        assert_eq!(clock.next(1_000_000_100, 100), 0);
        assert_eq!(clock.next(i64::MIN, 1), 0);
        assert_eq!(clock.next(i64::MAX, u64::MAX), 0);
    }
}
