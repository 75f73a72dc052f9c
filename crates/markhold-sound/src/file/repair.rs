//! Brings the header of a WAV file that was cut off up to date.

use super::SoundError;
use super::riff::read_header;
use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom, Write};
use std::path::Path;

/// What a file holds after its repair.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repaired {
    /// Sample rate, Hz.
    pub rate: u32,
    /// Frames that are really there.
    pub frames: u64,
    /// Whether anything had to be written.
    pub changed: bool,
}

/// Makes the header of a plain WAV file, whose samples come last, state what is there.
///
/// A frame that is cut is dropped; no other sample is touched; an odd length is made even by one
/// byte, as RIFF asks. Files of the long form
/// (RF64), with other chunks after the samples, or that are right, stay as they are.
/// Errors: the file cannot be read or written, or is no WAV file.
pub fn repair_wav(path: &Path) -> Result<Repaired, SoundError> {
    let mut file = File::options().read(true).write(true).open(path)?;
    let length = file.metadata()?.len();
    let mut begin = [0; 8];
    file.read_exact(&mut begin)?;
    file.rewind()?;
    let header = read_header(&mut BufReader::new(&file))?;
    let frame = header.layout.frame_bytes() as u64;
    let there = length.saturating_sub(header.data_at);
    let whole = there - there % frame;
    let stated = header.data_bytes.unwrap_or(0);
    let padded = stated + stated % 2;
    let right = stated == there || padded == there;
    let size = u32::try_from(whole).ok();
    let repaired = |frames, changed| Repaired {
        rate: header.rate,
        frames,
        changed,
    };
    match size.filter(|_| !right && samples_come_last(&begin, header.data_at + padded)) {
        Some(size) => {
            state(&mut file, header.data_at, size)?;
            Ok(repaired(whole / frame, true))
        }
        None => Ok(repaired(stated.min(whole) / frame, false)),
    }
}

/// Whether a file that begins so ends at `end` by its own word, so that what follows can
/// only be samples that its header does not know of.
fn samples_come_last(begin: &[u8; 8], end: u64) -> bool {
    let [r, i, f, g, size @ ..] = *begin;
    let size = u32::from_le_bytes(size);
    [r, i, f, g] == *b"RIFF" && (size == u32::MAX || u64::from(size) + 8 <= end)
}

/// Writes the sizes of a file whose `size` bytes of samples begin at `data_at`.
fn state(file: &mut File, data_at: u64, size: u32) -> std::io::Result<()> {
    let padded = u64::from(size) + u64::from(size % 2);
    file.set_len(data_at + padded)?;
    let riff = u32::try_from(data_at + padded - 8).unwrap_or(u32::MAX);
    for (at, size) in [(data_at - 4, size), (4, riff)] {
        file.seek(SeekFrom::Start(at))?;
        file.write_all(&size.to_le_bytes())?;
    }
    file.sync_data()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::file::{Encoding, WavSpec, WavWriter};
    use std::io::Cursor;

    /// A file of a thousand 16-bit samples at 8000 Hz.
    fn whole() -> Vec<u8> {
        let spec = WavSpec {
            rate: 8_000,
            channels: 1,
            encoding: Encoding::S16,
            bext: None,
        };
        let mut writer = WavWriter::new(Cursor::new(Vec::new()), spec).unwrap();
        writer.write(&[0.25; 1000]).unwrap();
        writer.finish().unwrap().into_inner()
    }

    /// Repairs the bytes; gives what was found and what an outside reader (the hound
    /// crate) finds afterwards.
    fn repaired(bytes: &[u8]) -> (Repaired, u32, Vec<u8>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.wav");
        std::fs::write(&path, bytes).unwrap();
        let found = repair_wav(&path).unwrap();
        let outside = hound::WavReader::open(&path).unwrap().duration();
        (found, outside, std::fs::read(&path).unwrap())
    }

    #[test]
    fn any_cut_and_any_wrong_size_is_put_right() {
        let whole = whole();
        let data_at = whole.len() - 2000;
        for end in [whole.len() - 1, whole.len() - 501, data_at + 2] {
            let (found, outside, _) = repaired(&whole[..end]);
            let frames = (end - data_at) as u64 / 2;
            assert_eq!(
                (found.frames, found.changed, outside),
                (frames, true, frames as u32)
            );
        }
        for size in [0u32, 600, u32::MAX] {
            let mut bytes = whole.clone();
            bytes[data_at - 4..data_at].copy_from_slice(&size.to_le_bytes());
            let riff = if size == u32::MAX {
                size
            } else {
                data_at as u32 + size - 8
            };
            bytes[4..8].copy_from_slice(&riff.to_le_bytes());
            assert_eq!(repaired(&bytes).2, whole, "{size}");
        }
    }

    #[test]
    fn what_is_right_or_has_more_behind_it_stays() {
        let mut bytes = whole();
        let riff = bytes.len() as u32;
        for _ in 0..2 {
            let (found, outside, after) = repaired(&bytes);
            assert_eq!((found.frames, found.changed, outside), (1000, false, 1000));
            assert_eq!(after, bytes);
            bytes.extend(b"LIST\x04\0\0\0INFO");
            bytes[4..8].copy_from_slice(&(riff + 4).to_le_bytes());
        }
    }

    #[test]
    fn an_odd_length_is_made_even() {
        // 333 frames of three bytes, 8000 a second; the header knows of none of them.
        let mut lying = b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0".to_vec();
        lying.extend(8_000u32.to_le_bytes());
        lying.extend(24_000u32.to_le_bytes());
        lying.extend(b"\x03\0\x18\0data\0\0\0\0");
        lying.extend([7; 999]);
        let (found, outside, after) = repaired(&lying);
        assert_eq!((found.frames, found.changed, outside), (333, true, 333));
        assert_eq!(after[44..], [&[7; 999][..], &[0]].concat());
    }

    #[test]
    fn what_is_no_wav_is_an_error_and_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.wav");
        for bytes in [
            &b""[..],
            b"RIFF",
            b"Dear friends of the marsh",
            &whole()[..30],
        ] {
            std::fs::write(&path, bytes).unwrap();
            assert!(repair_wav(&path).is_err());
            assert_eq!(std::fs::read(&path).unwrap(), bytes);
        }
    }
}
