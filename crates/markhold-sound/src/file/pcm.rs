//! Uncompressed frames from a stream of bytes: the body of WAV and of raw samples.

use super::sample::{Encoding, convert};
use super::{Notice, SoundError};
use std::io::{self, Read};

/// Bytes taken from the source at once: a quarter second of two 16-bit channels at
/// 48 kHz, small enough to follow a pipe, large enough that system calls cost nothing.
const BLOCK_BYTES: usize = 48 * 1024;

/// How frames are laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    pub(super) encoding: Encoding,
    pub(super) channels: u16,
}

impl Layout {
    /// Bytes of one frame (one sample of every channel).
    pub(super) fn frame_bytes(self) -> usize {
        self.encoding.bytes() * usize::from(self.channels)
    }
}

/// Reads one channel of interleaved frames.
pub(super) struct PcmReader<R> {
    // Configured.
    source: R,
    layout: Layout,
    /// Byte of the wanted sample in a frame.
    offset: usize,
    // State.
    /// Bytes still to come by the header's word; `None` to read until the input ends.
    left: Option<u64>,
    block: Vec<u8>,
    begin: usize,
    end: usize,
    ended: bool,
}

impl<R: Read> PcmReader<R> {
    /// Reads the channel `channel` (from 0) of at most `length` bytes of `source`.
    pub(super) fn new(source: R, layout: Layout, channel: u16, length: Option<u64>) -> Self {
        PcmReader {
            source,
            layout,
            offset: layout.encoding.bytes() * usize::from(channel),
            left: length,
            block: vec![0; BLOCK_BYTES],
            begin: 0,
            end: 0,
            ended: false,
        }
    }

    /// Fills the beginning of `out` with what one look at the source gives; 0 at the end.
    pub(super) fn read(&mut self, out: &mut [f32]) -> Result<usize, SoundError> {
        let frame = self.layout.frame_bytes();
        while self.end - self.begin < frame && !self.ended {
            self.fill()?;
        }
        let data = &self.block[self.begin..self.end];
        let count = convert(self.layout.encoding, data, frame, self.offset, out);
        self.begin += count * frame;
        Ok(count)
    }

    fn fill(&mut self) -> io::Result<()> {
        self.block.copy_within(self.begin..self.end, 0);
        self.end -= self.begin;
        self.begin = 0;
        let room = (self.block.len() - self.end) as u64;
        let wanted = self.left.map_or(room, |left| left.min(room)) as usize;
        let got = match self
            .source
            .read(&mut self.block[self.end..self.end + wanted])
        {
            Err(e) if e.kind() == io::ErrorKind::Interrupted => return Ok(()),
            other => other?,
        };
        self.end += got;
        self.left = self.left.map(|left| left - got as u64);
        self.ended = got == 0;
        Ok(())
    }

    /// Notes a stated end that was not reached. `frames` is how many were read.
    pub(super) fn notice_short(&self, frames: u64, rate: u32, to: &mut Vec<Notice>) {
        let Some(left) = self.left.filter(|_| self.ended) else {
            return;
        };
        let missing = (left + (self.end - self.begin) as u64) / self.layout.frame_bytes() as u64;
        if missing > 0 {
            to.push(Notice::EndsEarly {
                stated_s: (frames + missing) as f64 / f64::from(rate),
                found_s: frames as f64 / f64::from(rate),
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEREO: Layout = Layout {
        encoding: Encoding::S16,
        channels: 2,
    };

    fn frames(count: i16) -> Vec<u8> {
        (0..count)
            .flat_map(|i| [i.to_le_bytes(), (-i).to_le_bytes()])
            .flatten()
            .collect()
    }

    fn read_all(mut reader: PcmReader<impl Read>, block: usize) -> (Vec<f32>, Vec<Notice>) {
        let mut all = Vec::new();
        let mut out = vec![0.0; block];
        loop {
            let count = reader.read(&mut out).unwrap();
            if count == 0 {
                break;
            }
            all.extend_from_slice(&out[..count]);
        }
        let mut notices = Vec::new();
        reader.notice_short(all.len() as u64, 1000, &mut notices);
        (all, notices)
    }

    #[test]
    fn any_block_size_gives_the_same_samples() {
        let bytes = frames(20_000);
        let (whole, _) = read_all(PcmReader::new(&bytes[..], STEREO, 1, None), 20_000);
        assert_eq!(whole.len(), 20_000);
        assert_eq!(whole[3], -3.0 / 32_768.0);
        for block in [1, 7, 4096] {
            let (cut, _) = read_all(PcmReader::new(&bytes[..], STEREO, 1, None), block);
            assert!(cut == whole, "block {block}");
        }
    }

    #[test]
    fn a_stated_length_is_kept_to() {
        let bytes = frames(10);
        let (all, notices) = read_all(PcmReader::new(&bytes[..], STEREO, 0, Some(16)), 3);
        assert_eq!(all.len(), 4);
        assert!(notices.is_empty());
    }

    #[test]
    fn what_is_missing_is_noted() {
        let bytes = &frames(10)[..39];
        let (all, notices) = read_all(PcmReader::new(bytes, STEREO, 0, Some(400)), 64);
        assert_eq!(all.len(), 9);
        let expected = Notice::EndsEarly {
            stated_s: 0.1,
            found_s: 0.009,
        };
        assert_eq!(notices, [expected]);
    }
}
