//! Writes WAV that survives a crash.
//!
//! ```text
//! RIFF size WAVE | JUNK 28 bytes | [bext 602] | fmt  | [fact] | data size samples
//! ```
//!
//! About once a second the sizes in the header are brought up to date, always after the
//! samples they speak of. If the program dies, the file is valid and readers see all but
//! at most the last second of it. The JUNK chunk keeps room for the 64-bit sizes of RF64
//! (EBU Tech 3306), which the file becomes on the way when it passes 4 GiB.

use super::Bext;
use super::error::{check_channels, check_rate};
use super::open::create_file;
use super::{Encoding, SoundError};
use std::fs::File;
use std::io::{self, BufWriter, Seek, SeekFrom, Write};
use std::path::Path;

/// Content of the ds64 chunk: sizes of file and data, number of frames, empty table.
const DS64_BYTES: usize = 28;

/// What a file holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WavSpec {
    /// Samples per second and channel, Hz.
    pub rate: u32,
    /// Interleaved channels.
    pub channels: u16,
    /// How samples are stored; [`Encoding::S16`] or [`Encoding::F32`].
    pub encoding: Encoding,
    /// When and by whom the recording was made.
    pub bext: Option<Bext>,
}

/// Writes a WAV file or stream.
pub struct WavWriter<W: Write> {
    // Configured.
    spec: WavSpec,
    out: W,
    /// Goes to a byte of the output; `None` for a pipe, whose header stays as it is.
    go_to: Option<fn(&mut W, u64) -> io::Result<u64>>,
    // Derived.
    header_bytes: u64,
    /// Bytes after which the sizes are brought up to date.
    update_bytes: u64,
    /// Largest file that 32-bit sizes can state.
    riff_limit: u64,
    // State.
    data_bytes: u64,
    stated_bytes: u64,
    scratch: Vec<u8>,
}

impl WavWriter<BufWriter<File>> {
    /// Creates a file, replacing one of the same name; a named pipe gets a stream.
    pub fn create(path: &Path, spec: WavSpec) -> Result<Self, SoundError> {
        let file = create_file(path)?;
        let can_seek = file.metadata()?.is_file();
        let out = BufWriter::with_capacity(1 << 16, file);
        if can_seek {
            Self::new(out, spec)
        } else {
            Self::stream(out, spec)
        }
    }
}

impl<W: Write + Seek> WavWriter<W> {
    /// Writes to anything that can seek, from its current beginning.
    pub fn new(out: W, spec: WavSpec) -> Result<Self, SoundError> {
        Self::begin(out, spec, Some(|out, at| out.seek(SeekFrom::Start(at))))
    }
}

impl<W: Write> WavWriter<W> {
    /// Writes to a pipe. The header states no length; readers take what comes.
    pub fn stream(out: W, spec: WavSpec) -> Result<Self, SoundError> {
        Self::begin(out, spec, None)
    }

    fn begin(
        out: W,
        spec: WavSpec,
        go_to: Option<fn(&mut W, u64) -> io::Result<u64>>,
    ) -> Result<Self, SoundError> {
        check_rate(u64::from(spec.rate))?;
        check_channels(u64::from(spec.channels))?;
        if !matches!(spec.encoding, Encoding::S16 | Encoding::F32) {
            let found = format!("{} samples", spec.encoding.name());
            return Err(SoundError::Encoding { found });
        }
        let mut writer = WavWriter {
            update_bytes: u64::from(spec.rate) * frame_bytes(&spec),
            header_bytes: 0,
            riff_limit: u64::from(u32::MAX),
            data_bytes: 0,
            stated_bytes: 0,
            scratch: Vec::new(),
            spec,
            out,
            go_to,
        };
        let header = writer.header();
        writer.header_bytes = header.len() as u64;
        writer.out.write_all(&header)?;
        Ok(writer)
    }

    /// Adds interleaved samples, -1 to 1; what is beyond is limited (16-bit only), what
    /// is no number becomes silence.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), SoundError> {
        // Pieces, so that neither the scratch buffer nor a crash takes more than one.
        for piece in samples.chunks(4096) {
            self.scratch.clear();
            match self.spec.encoding {
                Encoding::S16 => self.scratch.extend(piece.iter().flat_map(|s| to_i16(*s))),
                _ => self.scratch.extend(piece.iter().flat_map(|s| to_f32(*s))),
            }
            self.out.write_all(&self.scratch)?;
            self.data_bytes += self.scratch.len() as u64;
            if self.data_bytes - self.stated_bytes >= self.update_bytes {
                self.flush()?;
            }
        }
        Ok(())
    }

    /// Hands all samples to the system and brings the header up to date.
    ///
    /// Afterwards a crash of this program loses nothing; a power cut may lose what the
    /// system has not yet put on the disk.
    pub fn flush(&mut self) -> Result<(), SoundError> {
        self.out.flush()?;
        let Some(go_to) = self.go_to else {
            self.stated_bytes = self.data_bytes;
            return Ok(());
        };
        if self.stated_bytes != self.data_bytes {
            let header = self.header();
            go_to(&mut self.out, 0)?;
            self.out.write_all(&header)?;
            go_to(&mut self.out, self.header_bytes + self.data_bytes)?;
            self.stated_bytes = self.data_bytes;
        }
        Ok(())
    }

    /// Ends the file: pads odd data, brings the header up to date and gives back the
    /// output.
    pub fn finish(mut self) -> Result<W, SoundError> {
        self.flush()?;
        if self.data_bytes % 2 == 1 {
            self.out.write_all(&[0])?;
        }
        self.out.flush()?;
        Ok(self.out)
    }

    /// What is written to; for those who must reach the disk behind it.
    pub fn output_mut(&mut self) -> &mut W {
        &mut self.out
    }

    /// Frames written so far.
    pub fn frames(&self) -> u64 {
        self.data_bytes / frame_bytes(&self.spec)
    }

    fn header(&self) -> Vec<u8> {
        let body = self.header_bytes.saturating_sub(8) + self.data_bytes + self.data_bytes % 2;
        let long = body > self.riff_limit;
        let unknown = self.go_to.is_none();
        let size32 = |size: u64| match u32::try_from(size) {
            Ok(size) if !long && !unknown => size,
            _ => u32::MAX,
        };
        let mut bytes = Vec::with_capacity(1024);
        bytes.extend(if long { b"RF64" } else { b"RIFF" });
        bytes.extend(size32(body).to_le_bytes());
        bytes.extend(b"WAVE");
        self.put_long_sizes(&mut bytes, long, body);
        if let Some(bext) = &self.spec.bext {
            put_chunk(&mut bytes, b"bext", &bext.to_bytes());
        }
        self.put_format(&mut bytes);
        bytes.extend(b"data");
        bytes.extend(size32(self.data_bytes).to_le_bytes());
        bytes
    }

    fn put_long_sizes(&self, bytes: &mut Vec<u8>, long: bool, body: u64) {
        let mut content = vec![0; DS64_BYTES];
        if long {
            content[..8].copy_from_slice(&body.to_le_bytes());
            content[8..16].copy_from_slice(&self.data_bytes.to_le_bytes());
            content[16..24].copy_from_slice(&self.frames().to_le_bytes());
        }
        put_chunk(bytes, if long { b"ds64" } else { b"JUNK" }, &content);
    }

    fn put_format(&self, bytes: &mut Vec<u8>) {
        let WavSpec {
            rate,
            channels,
            encoding,
            ..
        } = self.spec;
        let frame = frame_bytes(&self.spec) as u16;
        let float = encoding == Encoding::F32;
        let mut content = Vec::with_capacity(18);
        content.extend(if float { 3u16 } else { 1 }.to_le_bytes());
        content.extend(channels.to_le_bytes());
        content.extend(rate.to_le_bytes());
        content.extend((rate * u32::from(frame)).to_le_bytes());
        content.extend(frame.to_le_bytes());
        content.extend(((encoding.bytes() * 8) as u16).to_le_bytes());
        if float {
            // Every format but plain integers states the (empty) extension and a fact
            // chunk with the number of frames.
            content.extend(0u16.to_le_bytes());
        }
        put_chunk(bytes, b"fmt ", &content);
        if float {
            let frames = u32::try_from(self.frames()).unwrap_or(u32::MAX);
            put_chunk(bytes, b"fact", &frames.to_le_bytes());
        }
    }
}

fn frame_bytes(spec: &WavSpec) -> u64 {
    (spec.encoding.bytes() * usize::from(spec.channels)) as u64
}

fn put_chunk(bytes: &mut Vec<u8>, name: &[u8; 4], content: &[u8]) {
    bytes.extend(name);
    bytes.extend((content.len() as u32).to_le_bytes());
    bytes.extend(content);
}

/// The same scale as in reading: 32768 is 1.0. A cast of a float that is no number is 0.
fn to_i16(sample: f32) -> [u8; 2] {
    ((sample * 32_768.0).round() as i16).to_le_bytes()
}

fn to_f32(sample: f32) -> [u8; 4] {
    if sample.is_finite() { sample } else { 0.0 }.to_le_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{ReadOptions, SoundReader};
    use std::io::Cursor;

    fn spec(encoding: Encoding, channels: u16) -> WavSpec {
        WavSpec {
            rate: 8_000,
            channels,
            encoding,
            bext: None,
        }
    }

    fn written(spec: WavSpec, samples: &[f32]) -> Vec<u8> {
        let mut writer = WavWriter::new(Cursor::new(Vec::new()), spec).unwrap();
        writer.write(samples).unwrap();
        writer.finish().unwrap().into_inner()
    }

    fn read_back(bytes: Vec<u8>) -> (Vec<f32>, SoundReader) {
        let mut reader =
            SoundReader::from_read(Cursor::new(bytes), &ReadOptions::default()).unwrap();
        let mut all = Vec::new();
        let mut block = [0.0; 1000];
        loop {
            let count = reader.read(&mut block).unwrap();
            if count == 0 {
                return (all, reader);
            }
            all.extend_from_slice(&block[..count]);
        }
    }

    fn ramp(count: usize) -> Vec<f32> {
        (0..count)
            .map(|i| (i % 4096) as f32 / 4096.0 - 0.5)
            .collect()
    }

    /// An outside reader (the hound crate) agrees with every size and format field.
    #[test]
    fn an_outside_reader_reads_it() {
        for encoding in [Encoding::S16, Encoding::F32] {
            let samples = ramp(20_000);
            let bytes = written(spec(encoding, 2), &samples);
            let mut reader = hound::WavReader::new(Cursor::new(bytes)).unwrap();
            let found = reader.spec();
            assert_eq!((found.channels, found.sample_rate), (2, 8_000));
            assert_eq!(reader.duration(), 10_000);
            let all: Vec<f32> = match encoding {
                Encoding::S16 => reader
                    .samples::<i16>()
                    .map(|s| f32::from(s.unwrap()) / 32_768.0)
                    .collect(),
                _ => reader.samples::<f32>().map(|s| s.unwrap()).collect(),
            };
            assert_eq!(all, samples);
        }
    }

    #[test]
    fn every_16_bit_value_comes_back() {
        let samples: Vec<f32> = (i16::MIN..=i16::MAX)
            .map(|s| f32::from(s) / 32_768.0)
            .collect();
        assert_eq!(
            read_back(written(spec(Encoding::S16, 1), &samples)).0,
            samples
        );
    }

    #[test]
    fn limits_and_silence() {
        let bad = [2.0, -2.0, f32::NAN, f32::INFINITY];
        let (all, _) = read_back(written(spec(Encoding::S16, 1), &bad));
        assert_eq!(all, [32_767.0 / 32_768.0, -1.0, 0.0, 32_767.0 / 32_768.0]);
        let (all, reader) = read_back(written(spec(Encoding::F32, 1), &bad));
        assert_eq!(all, [2.0, -2.0, 0.0, 0.0]);
        assert!(reader.notices().is_empty());
    }

    /// The file as it lies on the disk if the program dies after any number of blocks.
    #[test]
    fn valid_after_a_crash_at_any_time() {
        let mut writer = WavWriter::new(Cursor::new(Vec::new()), spec(Encoding::S16, 1)).unwrap();
        let mut count = 0;
        for _ in 0..40 {
            writer.write(&ramp(700)).unwrap();
            count += 700;
            let bytes = writer.out.get_ref().clone();
            let stated = hound::WavReader::new(Cursor::new(bytes.clone()))
                .unwrap()
                .duration();
            assert!(
                stated <= count && count - stated < 8_000,
                "{stated} of {count}"
            );
            // What the header does not state yet is there nevertheless.
            assert_eq!(
                bytes.len() as u64,
                writer.header_bytes + u64::from(count) * 2
            );
        }
    }

    #[test]
    fn becomes_rf64_when_sizes_no_longer_fit() {
        let mut writer = WavWriter::new(Cursor::new(Vec::new()), spec(Encoding::S16, 1)).unwrap();
        writer.riff_limit = 10_000;
        writer.write(&ramp(4_000)).unwrap();
        writer.flush().unwrap();
        assert!(writer.out.get_ref().starts_with(b"RIFF"));
        writer.write(&ramp(4_000)).unwrap();
        let bytes = writer.finish().unwrap().into_inner();
        assert!(bytes.starts_with(b"RF64\xFF\xFF\xFF\xFFWAVEds64"));
        let (all, reader) = read_back(bytes);
        assert_eq!(all, [ramp(4_000), ramp(4_000)].concat());
        assert_eq!(reader.len_hint(), Some(8_000));
    }

    #[test]
    fn a_stream_states_no_length_and_is_read_to_its_end() {
        let mut writer = WavWriter::stream(Vec::new(), spec(Encoding::S16, 1)).unwrap();
        writer.write(&ramp(20_000)).unwrap();
        let (all, reader) = read_back(writer.finish().unwrap());
        assert_eq!((all.len(), reader.len_hint()), (20_000, None));
        assert!(reader.notices().is_empty());
    }

    #[test]
    fn the_time_stamp_comes_back() {
        let begin = "2026-03-21T19:30:05.5Z".parse().unwrap();
        let bext = Bext::at(begin, 8_000, "Evening bulletin", "markhold");
        let with = WavSpec {
            bext: Some(bext.clone()),
            ..spec(Encoding::F32, 1)
        };
        let (_, reader) = read_back(written(with, &ramp(10)));
        assert_eq!(reader.bext(), Some(&bext));
    }

    #[test]
    fn refuses_what_it_cannot_write() {
        let bad = [
            spec(Encoding::S24, 1),
            spec(Encoding::S16, 0),
            WavSpec {
                rate: 0,
                ..spec(Encoding::S16, 1)
            },
        ];
        for spec in bad {
            assert!(WavWriter::stream(Vec::new(), spec).is_err());
        }
    }
}
