//! Samples of a WAV file or of a WAV stream from a pipe.

use super::decode::{Decode, Info, pick_channel};
use super::pcm::PcmReader;
use super::riff::{WavHeader, read_header};
use super::source::ByteSource;
use super::{Notice, SoundError};

/// Reads one channel of WAV.
pub(super) struct WavReader {
    info: Info,
    frames: PcmReader<ByteSource>,
    is_file: bool,
    length_stated: bool,
}

impl WavReader {
    /// Reads the header of `source`, which has been seen to begin as WAV does.
    pub(super) fn new(mut source: ByteSource, channel: u16) -> Result<Self, SoundError> {
        let file_bytes = source.length();
        let header = read_header(&mut source)?;
        let layout = header.layout;
        let channel = pick_channel(channel, layout.channels)?;
        let info = Info {
            kind: "WAV",
            precision: layout.encoding.name(),
            rate: header.rate,
            channels: layout.channels,
            full_scale: layout.encoding.full_scale(),
            len_hint: frames_there(&header, file_bytes),
            bext: header.bext,
        };
        Ok(WavReader {
            info,
            frames: PcmReader::new(source, layout, channel, header.data_bytes),
            is_file: file_bytes.is_some(),
            length_stated: header.data_bytes.is_some(),
        })
    }
}

/// Frames to expect: what the header states, but no more than the file can hold.
fn frames_there(header: &WavHeader, file_bytes: Option<u64>) -> Option<u64> {
    let there = file_bytes.map(|bytes| bytes.saturating_sub(header.data_at));
    let bytes = match (header.data_bytes, there) {
        (Some(stated), Some(there)) => stated.min(there),
        (stated, there) => stated.or(there)?,
    };
    Some(bytes / header.layout.frame_bytes() as u64)
}

impl Decode for WavReader {
    fn info(&self) -> &Info {
        &self.info
    }

    fn read(&mut self, out: &mut [f32]) -> Result<usize, SoundError> {
        self.frames.read(out)
    }

    fn notices(&self, frames: u64, to: &mut Vec<Notice>) {
        self.frames.notice_short(frames, self.info.rate, to);
        if self.is_file && !self.length_stated && frames > 0 {
            to.push(Notice::LengthNotStated {
                found_s: frames as f64 / f64::from(self.info.rate),
            });
        }
    }
}
