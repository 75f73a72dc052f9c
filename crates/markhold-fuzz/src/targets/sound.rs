//! Sound files, whole, damaged and bare.

use super::{refused, size, went};
use crate::{Target, Went};
use markhold_sound::{Encoding, ReadOptions, SoundReader, WavSpec, WavWriter, repair_wav};
use std::io::Cursor;
use tempfile::NamedTempFile;

/// What bare samples may be said to be.
const RAW: [&str; 7] = [
    "8000,s16le",
    "48000,s16le,2",
    "8000,u8",
    "44100,s24le,3",
    "96000,s32le",
    "6000,f32le,8",
    "192000,f32le",
];

pub const SOUND: Target = Target {
    name: "sound",
    try_bytes: sound,
    seeds: || {
        let mut all = Vec::new();
        for encoding in [Encoding::S16, Encoding::F32] {
            // As a file, and as bare samples of the second and the last description.
            for first in [0, 1, 16 + 8, 16 + 8 * 6] {
                all.push([vec![first], wav(encoding, 2)].concat());
            }
        }
        all.extend(FILES.map(|file| [vec![0], file.to_vec()].concat()));
        all
    },
    words: &[
        "RIFF", "RF64", "WAVE", "fmt ", "data", "bext", "LIST", "ds64", "fLaC", "OggS",
    ],
    longest: 1 << 16,
};

/// Small files of the formats that are not written here.
const FILES: [&[u8]; 4] = [
    include_bytes!("../../../markhold-sound/tests/fixtures/tone.flac"),
    include_bytes!("../../../markhold-sound/tests/fixtures/tone-24.flac"),
    include_bytes!("../../../markhold-sound/tests/fixtures/tone-flac.ogg"),
    include_bytes!("../../../markhold-sound/tests/fixtures/tone-vorbis.ogg"),
];

fn wav(encoding: Encoding, channels: u16) -> Vec<u8> {
    let spec = WavSpec {
        rate: 8000,
        channels,
        encoding,
        bext: None,
    };
    let mut writer = WavWriter::new(Cursor::new(Vec::new()), spec).expect("it can be written");
    writer.write(&[0.25; 200]).expect("a vector takes it");
    writer.finish().expect("a vector takes it").into_inner()
}

/// The first byte picks the channel, and whether the rest is bare samples of some description.
fn sound(bytes: &[u8]) -> Went {
    let Some((first, content)) = bytes.split_first() else {
        return went(0);
    };
    let raw = (first & 16 != 0).then(|| RAW[usize::from(first >> 5) % RAW.len()]);
    let options = ReadOptions {
        channel: Some(u16::from(first % 3) + 1),
        raw: raw.map(|words| words.parse().expect("a description")),
    };
    let mut reader = match SoundReader::from_read(Cursor::new(content.to_vec()), &options) {
        Ok(reader) => reader,
        Err(error) => return refused(error),
    };
    let mut block = vec![0.0; 4096];
    let end = loop {
        match reader.read(&mut block) {
            Ok(0) => break went(reader.notices().len().min(4)),
            Ok(count) => {
                assert!(count <= block.len() && reader.position() < 200_000_000);
                assert!(block[..count].iter().all(|sample| sample.is_finite()));
            }
            Err(error) => break refused(error),
        }
    };
    if raw.is_some() {
        assert!(reader.position() <= content.len() as u64);
    }
    went((
        end,
        size(reader.position() as usize),
        reader.describe().len() > 200,
    ))
}

pub const REPAIR: Target = Target {
    name: "repair",
    try_bytes: repair,
    seeds: || {
        let whole = wav(Encoding::S16, 1);
        let cut = whole[..whole.len() - 101].to_vec();
        let mut endless = whole.clone();
        endless[4..8].fill(0xff);
        endless[40..44].fill(0xff);
        vec![whole, cut, endless, wav(Encoding::F32, 2)]
    },
    words: &["RIFF", "RF64", "WAVE", "fmt ", "data", "LIST"],
    longest: 1 << 14,
};

/// A repair changes two sizes and drops what is no whole frame; it adds at most the byte that
/// makes an odd length even, which RIFF asks for. A second one changes nothing at all.
fn repair(bytes: &[u8]) -> Went {
    let memory = NamedTempFile::new_in("/dev/shm");
    let file = memory.or_else(|_| NamedTempFile::new()).expect("a file");
    std::fs::write(file.path(), bytes).expect("room");
    let repaired = match repair_wav(file.path()) {
        Ok(repaired) => repaired,
        Err(error) => {
            let left = std::fs::read(file.path()).expect("it is there");
            assert_eq!(left, bytes, "a file that is none was changed");
            return refused(error);
        }
    };
    let once = std::fs::read(file.path()).expect("it is there");
    assert!(once.len() <= bytes.len() + 1);
    assert!(once.len() <= bytes.len() || once.ends_with(&[0]));
    let changed = once.iter().zip(bytes).filter(|(a, b)| a != b).count();
    assert!(changed <= 8, "more than two sizes were changed");
    assert_eq!(repaired.changed, once != bytes);
    let again = repair_wav(file.path()).expect("it was repaired");
    assert!(
        !again.changed && again.frames == repaired.frames,
        "{repaired:?} {again:?}"
    );
    if let Ok(mut reader) = SoundReader::open(file.path(), &ReadOptions::default()) {
        let mut block = vec![0.0; 4096];
        while let Ok(1..) = reader.read(&mut block) {}
    }
    went((repaired.changed, size(repaired.frames as usize)))
}
