//! The chunks of a WAV file up to its samples.
//!
//! ```text
//! RIFF size WAVE | [ds64 size ...] [other chunks] fmt  size ... [other chunks] data size samples
//! ```
//!
//! A chunk is a 4-byte name, a 4-byte little-endian size, the content, and one pad byte
//! after an odd size (RIFF/WAVE; EBU Tech 3306 for RF64, where a size of 0xFFFFFFFF means
//! "see ds64"). A header may claim any size: nothing is allocated by its word, and what is
//! not used is skipped.

use super::bext::{BEXT_BYTES, Bext};
use super::error::{check_channels, check_rate};
use super::pcm::Layout;
use super::source::{read_full, skip};
use super::{Encoding, SoundError};
use std::io::Read;

/// The size that means "not known here".
const UNKNOWN: u32 = u32::MAX;

/// Format tags that are read here.
const TAG_INTEGER: u16 = 0x0001;
const TAG_FLOAT: u16 = 0x0003;
const TAG_EXTENSIBLE: u16 = 0xFFFE;

/// Names of other format tags, for the message (registered values, from memory).
const TAG_NAMES: [(u16, &str); 9] = [
    (0x0002, "MS ADPCM"),
    (0x0006, "A-law"),
    (0x0007, "mu-law"),
    (0x0011, "IMA ADPCM"),
    (0x0031, "GSM 6.10"),
    (0x0050, "MPEG layer 2"),
    (0x0055, "MPEG layer 3"),
    (0x00FF, "AAC"),
    (0x0161, "Windows Media Audio"),
];

/// What stands before the samples.
#[derive(Debug)]
pub(super) struct WavHeader {
    pub(super) layout: Layout,
    pub(super) rate: u32,
    /// Bytes of samples by the header's word; `None` where it states none.
    pub(super) data_bytes: Option<u64>,
    /// Bytes of the file before the first sample.
    pub(super) data_at: u64,
    pub(super) bext: Option<Bext>,
}

/// Reads up to the first sample. Errors: no `fmt ` or `data` chunk, contradictions,
/// rates and channels out of range, compression.
pub(super) fn read_header(source: &mut impl Read) -> Result<WavHeader, SoundError> {
    let mut chunks = Chunks {
        source,
        at: 0,
        name: *b"RIFF",
    };
    chunks.take::<12>()?;
    let mut found = Found::default();
    loop {
        let (name, size) = chunks.next()?;
        let used = match &name {
            b"data" => break found.into_header(size, chunks.at),
            b"fmt " => found.format(&mut chunks, size)?,
            b"ds64" => found.long_sizes(&mut chunks, size)?,
            b"bext" => found.broadcast(&mut chunks, size)?,
            _ => 0,
        };
        let padded = u64::from(size) + u64::from(size % 2);
        chunks.skip(padded - used)?;
    }
}

struct Chunks<'a, R> {
    source: &'a mut R,
    /// Bytes read so far.
    at: u64,
    /// The chunk being read, for messages.
    name: [u8; 4],
}

impl<R: Read> Chunks<'_, R> {
    fn next(&mut self) -> Result<([u8; 4], u32), SoundError> {
        let head = self.take::<8>()?;
        self.name = [head[0], head[1], head[2], head[3]];
        if !self.name.iter().all(|b| (0x20..0x7F).contains(b)) {
            let detail = format!(
                "at byte {} a chunk was expected, found the bytes {:02X?}",
                self.at - 8,
                self.name
            );
            return Err(SoundError::Header { detail });
        }
        Ok((
            self.name,
            u32::from_le_bytes([head[4], head[5], head[6], head[7]]),
        ))
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], SoundError> {
        let mut bytes = [0; N];
        let got = read_full(self.source, &mut bytes)?;
        self.at += got as u64;
        if got < N {
            Err(self.ends_early())
        } else {
            Ok(bytes)
        }
    }

    fn skip(&mut self, count: u64) -> Result<(), SoundError> {
        let got = skip(self.source, count)?;
        self.at += got;
        if got < count {
            Err(self.ends_early())
        } else {
            Ok(())
        }
    }

    fn ends_early(&self) -> SoundError {
        let detail = format!(
            "the file ends at byte {} inside or after the \"{}\" chunk, before any sample",
            self.at,
            String::from_utf8_lossy(&self.name)
        );
        SoundError::Header { detail }
    }
}

/// What the chunks said so far.
#[derive(Default)]
struct Found {
    format: Option<(Layout, u32)>,
    long_data_bytes: Option<u64>,
    bext: Option<Bext>,
}

/// Each method reads a chunk's content and returns how many of its bytes it used.
impl Found {
    fn format(&mut self, chunks: &mut Chunks<impl Read>, size: u32) -> Result<u64, SoundError> {
        if size < 16 {
            let detail = format!("the \"fmt \" chunk has {size} bytes, expected 16 or more");
            return Err(SoundError::Header { detail });
        }
        let basic = chunks.take::<16>()?;
        let mut tag = u16_at(&basic, 0);
        let mut used = 16;
        if tag == TAG_EXTENSIBLE && size >= 40 {
            // The sub-format begins with the tag that is meant.
            tag = u16_at(&chunks.take::<24>()?, 8);
            used = 40;
        }
        let channels = check_channels(u64::from(u16_at(&basic, 2)))?;
        let rate = check_rate(u64::from(u32::from_le_bytes([
            basic[4], basic[5], basic[6], basic[7],
        ])))?;
        let encoding = encoding(tag, channels, u16_at(&basic, 12), u16_at(&basic, 14))?;
        self.format = Some((Layout { encoding, channels }, rate));
        Ok(used)
    }

    fn long_sizes(&mut self, chunks: &mut Chunks<impl Read>, size: u32) -> Result<u64, SoundError> {
        if size < 16 {
            return Ok(0);
        }
        let sizes = chunks.take::<16>()?;
        let (_, data) = sizes.split_at(8);
        self.long_data_bytes = data.first_chunk().map(|b| u64::from_le_bytes(*b));
        Ok(16)
    }

    fn broadcast(&mut self, chunks: &mut Chunks<impl Read>, size: u32) -> Result<u64, SoundError> {
        if (size as usize) < BEXT_BYTES {
            return Ok(0);
        }
        self.bext = Some(Bext::parse(&chunks.take::<BEXT_BYTES>()?));
        Ok(BEXT_BYTES as u64)
    }

    fn into_header(self, data_size: u32, data_at: u64) -> Result<WavHeader, SoundError> {
        let Some((layout, rate)) = self.format else {
            let detail = "the samples come before any \"fmt \" chunk".to_string();
            return Err(SoundError::Header { detail });
        };
        let data_bytes = match (data_size, self.long_data_bytes) {
            (UNKNOWN, Some(long)) if long > 0 && long < u64::MAX => Some(long),
            (UNKNOWN | 0, _) => None,
            (size, _) => Some(u64::from(size)),
        };
        Ok(WavHeader {
            layout,
            rate,
            data_bytes,
            data_at,
            bext: self.bext,
        })
    }
}

/// The encoding, from the tag and the bytes each sample takes. A sample of fewer bits than
/// its bytes have room for is left-justified, so that the bytes alone decide.
fn encoding(tag: u16, channels: u16, block: u16, bits: u16) -> Result<Encoding, SoundError> {
    if tag != TAG_INTEGER && tag != TAG_FLOAT {
        let name = TAG_NAMES.iter().find(|(t, _)| *t == tag);
        let name = name.map_or("an unknown compression", |(_, name)| name);
        let found = format!("{name} (WAV format tag 0x{tag:04X})");
        return Err(SoundError::Encoding { found });
    }
    let bytes = if block == 0 {
        bits.div_ceil(8)
    } else {
        block / channels
    };
    let whole = block == 0 || block.is_multiple_of(channels);
    if !whole || bits > bytes.saturating_mul(8) || bits == 0 {
        let detail =
            format!("{channels} channels of {bits} bits do not fit into frames of {block} bytes");
        return Err(SoundError::Header { detail });
    }
    match (tag, bytes) {
        (TAG_INTEGER, 1) => Ok(Encoding::U8),
        (TAG_INTEGER, 2) => Ok(Encoding::S16),
        (TAG_INTEGER, 3) => Ok(Encoding::S24),
        (TAG_INTEGER, 4) => Ok(Encoding::S32),
        (TAG_FLOAT, 4) => Ok(Encoding::F32),
        (TAG_FLOAT, 8) => Ok(Encoding::F64),
        _ => {
            let kind = if tag == TAG_FLOAT {
                "floating-point"
            } else {
                "integer"
            };
            let found = format!("{kind} samples of {bytes} bytes");
            Err(SoundError::Encoding { found })
        }
    }
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([bytes[at], bytes[at + 1]])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chunk(name: &[u8; 4], content: &[u8]) -> Vec<u8> {
        let mut bytes = name.to_vec();
        bytes.extend((content.len() as u32).to_le_bytes());
        bytes.extend(content);
        bytes.resize(bytes.len() + content.len() % 2, 0);
        bytes
    }

    fn fmt(tag: u16, channels: u16, rate: u32, bits: u16) -> Vec<u8> {
        let block = channels.wrapping_mul(bits / 8);
        let mut content = Vec::new();
        content.extend(tag.to_le_bytes());
        content.extend(channels.to_le_bytes());
        content.extend(rate.to_le_bytes());
        content.extend((rate.wrapping_mul(u32::from(block))).to_le_bytes());
        content.extend(block.to_le_bytes());
        content.extend(bits.to_le_bytes());
        chunk(b"fmt ", &content)
    }

    fn file(id: &[u8; 4], chunks: &[Vec<u8>], data_size: u32) -> Vec<u8> {
        let mut bytes = id.to_vec();
        bytes.extend([0xFF; 4]);
        bytes.extend(b"WAVE");
        bytes.extend(chunks.concat());
        bytes.extend(b"data");
        bytes.extend(data_size.to_le_bytes());
        bytes
    }

    fn header(bytes: &[u8]) -> Result<WavHeader, SoundError> {
        read_header(&mut &bytes[..])
    }

    #[test]
    fn odd_and_unknown_chunks_are_passed_over() {
        let chunks = [
            chunk(b"LIST", b"INFOxyz"),
            fmt(1, 2, 48_000, 16),
            chunk(b"fact", &[0; 5]),
        ];
        let bytes = file(b"RIFF", &chunks, 400);
        let header = header(&bytes).unwrap();
        assert_eq!(header.layout.encoding, Encoding::S16);
        assert_eq!((header.layout.channels, header.rate), (2, 48_000));
        assert_eq!(
            (header.data_bytes, header.data_at),
            (Some(400), bytes.len() as u64)
        );
    }

    #[test]
    fn lengths_that_state_nothing() {
        let plain = [fmt(1, 1, 8_000, 16)];
        for size in [0, u32::MAX] {
            assert_eq!(
                header(&file(b"RIFF", &plain, size)).unwrap().data_bytes,
                None
            );
        }
        let mut sizes = vec![0xFF; 8];
        sizes.extend((5u64 << 32).to_le_bytes());
        sizes.extend([0; 12]);
        let long = [chunk(b"ds64", &sizes), fmt(1, 1, 8_000, 16)];
        let found = header(&file(b"RF64", &long, u32::MAX)).unwrap();
        assert_eq!(found.data_bytes, Some(5 << 32));
    }

    #[test]
    fn a_claim_of_size_costs_nothing() {
        let mut bytes = file(b"RIFF", &[], 0);
        bytes.truncate(12);
        bytes.extend(b"LIST\xFE\xFF\xFF\xFFabc");
        let message = header(&bytes).unwrap_err().to_string();
        assert!(
            message.contains("byte 23") && message.contains("LIST"),
            "{message}"
        );
    }

    #[test]
    fn what_cannot_be_read_is_named() {
        let cases = [
            (fmt(0x11, 1, 8_000, 4), "IMA ADPCM (WAV format tag 0x0011)"),
            (fmt(0x1234, 1, 8_000, 16), "0x1234"),
            (fmt(1, 64, 8_000, 16), "64 channels"),
            (fmt(1, 0, 8_000, 16), "0 channels"),
            (fmt(1, 1, 0, 16), "0 Hz"),
            (fmt(1, 1, 8_000, 64), "integer samples of 8 bytes"),
            (fmt(3, 1, 8_000, 16), "floating-point samples of 2 bytes"),
            (fmt(1, 1, 8_000, 0), "0 bits"),
            (chunk(b"fmt ", &[1, 0]), "2 bytes"),
            (chunk(b"LIST", &[]), "before any \"fmt \""),
            (chunk(b"\0\0\0\0", &[]), "a chunk was expected"),
        ];
        for (chunk, expected) in cases {
            let message = header(&file(b"RIFF", &[chunk], 4)).unwrap_err().to_string();
            assert!(message.contains(expected), "{message}");
        }
    }

    #[test]
    fn extensible_takes_the_tag_of_its_sub_format() {
        let mut content = fmt(TAG_EXTENSIBLE, 2, 96_000, 32)[8..].to_vec();
        content.extend([22, 0, 24, 0, 3, 0, 0, 0]);
        content.extend([
            1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71,
        ]);
        let bytes = file(b"RIFF", &[chunk(b"fmt ", &content)], 8);
        assert_eq!(header(&bytes).unwrap().layout.encoding, Encoding::S32);
    }
}
