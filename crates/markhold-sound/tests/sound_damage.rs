//! Bad input: each kind gets its own answer, what can be read is read, and no bytes
//! whatever make the reader panic, hang or swell.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_sound::{Notice, ReadOptions, SoundError, SoundReader};
use proptest::prelude::*;
use std::io::{self, Cursor, Read};

fn samples(count: usize) -> Vec<i16> {
    (0..count).map(|i| (i % 1_000) as i16).collect()
}

fn open_error(path: &std::path::Path) -> SoundError {
    SoundReader::open(path, &ReadOptions::default())
        .err()
        .unwrap()
}

#[test]
fn files_that_are_no_sound() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x");
    assert!(matches!(open_error(&path), SoundError::NotFound));
    assert!(matches!(open_error(folder.path()), SoundError::IsFolder));
    std::fs::write(&path, b"").unwrap();
    assert!(matches!(open_error(&path), SoundError::Empty));
    std::fs::write(&path, b"Bulletin of the Low Marsh club").unwrap();
    let message = open_error(&path).to_string();
    assert!(
        message.contains("text, beginning \"Bulletin of the Low"),
        "{message}"
    );
}

#[test]
fn a_header_without_samples() {
    let mut reader = from_bytes(&hound_wav(8_000, 1, &[]), &channel(1)).unwrap();
    assert!(matches!(
        reader.read(&mut [0.0; 4]),
        Err(SoundError::NoSamples)
    ));
    assert_eq!(reader.read(&mut [0.0; 4]).unwrap(), 0);
}

#[test]
fn a_channel_that_is_not_there() {
    let bytes = hound_wav(8_000, 2, &samples(10));
    for (asked, right) in [(0, false), (1, true), (2, true), (3, false)] {
        assert_eq!(
            from_bytes(&bytes, &channel(asked)).is_ok(),
            right,
            "{asked}"
        );
    }
}

#[test]
fn a_cut_wav_gives_what_is_there_and_a_notice() {
    let bytes = hound_wav(8_000, 1, &samples(8_000));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.wav");
    std::fs::write(&path, &bytes[..bytes.len() - 8_001]).unwrap();
    let mut reader = SoundReader::open(&path, &channel(1)).unwrap();
    assert_eq!(reader.len_hint(), Some(3_999));
    let (all, error) = drain(&mut reader, 512);
    assert!(error.is_none());
    assert_eq!(all.len(), 3_999);
    let expected = Notice::EndsEarly {
        stated_s: 1.0,
        found_s: 3_999.0 / 8_000.0,
    };
    assert_eq!(reader.notices(), [expected]);
}

#[test]
fn a_wav_left_by_a_crash_is_read_to_its_end() {
    let mut bytes = hound_wav(8_000, 1, &samples(8_000));
    bytes[4..8].fill(0);
    bytes[40..44].fill(0);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crash.wav");
    std::fs::write(&path, &bytes).unwrap();
    let mut reader = SoundReader::open(&path, &channel(1)).unwrap();
    assert_eq!(drain(&mut reader, 512).0.len(), 8_000);
    assert_eq!(reader.notices(), [Notice::LengthNotStated { found_s: 1.0 }]);
}

#[test]
fn a_cut_flac_gives_what_is_there_and_a_notice() {
    let bytes = std::fs::read(fixture("tone.flac")).unwrap();
    let mut reader = from_bytes(&bytes[..bytes.len() / 2], &channel(1)).unwrap();
    let (all, error) = drain(&mut reader, 512);
    assert!(error.is_none(), "{error:?}");
    assert!(all.len() > 3_000 && all.len() < 12_000, "{}", all.len());
    let [Notice::EndsEarly { stated_s, .. }] = reader.notices()[..] else {
        panic!("{:?}", reader.notices());
    };
    assert_eq!(stated_s, 1.5);
}

/// A hole in the middle of FLAC: the rest keeps its time.
#[test]
fn damaged_flac_is_bridged_by_silence() {
    let mut bytes = std::fs::read(fixture("tone.flac")).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 300].fill(0x55);
    let mut reader = from_bytes(&bytes, &channel(1)).unwrap();
    let (all, error) = drain(&mut reader, 512);
    assert!(error.is_none(), "{error:?}");
    assert_eq!(all.len(), 12_000);
    assert!(distance(&all[10_500..], &tone(441.0, 12_000)[10_500..]) < 1e-4);
    assert!(
        matches!(reader.notices()[..], [Notice::Gaps { count: 1, length_s }] if length_s > 0.1),
        "{:?}",
        reader.notices()
    );
}

/// Breaks after a number of bytes, as a failing disk does.
struct Breaks(Cursor<Vec<u8>>, usize);

impl Read for Breaks {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.1 == 0 {
            return Err(io::Error::other("the disk gave up"));
        }
        let count = out.len().min(self.1);
        let got = self.0.read(&mut out[..count])?;
        self.1 -= got;
        Ok(got)
    }
}

#[test]
fn samples_before_a_failure_come_first() {
    let wav = hound_wav(8_000, 1, &samples(60_000));
    let flac = std::fs::read(fixture("tone.flac")).unwrap();
    for (bytes, at, least) in [
        (wav, 100_044, 50_000),
        (flac.clone(), flac.len() / 2, 1_000),
    ] {
        let source = Breaks(Cursor::new(bytes), at);
        let mut reader = SoundReader::from_read(source, &channel(1)).unwrap();
        let (all, error) = drain(&mut reader, 700);
        assert!(all.len() >= least, "{}", all.len());
        let message = error.unwrap().to_string();
        assert!(message.contains("the disk gave up"), "{message}");
        assert_eq!(reader.read(&mut [0.0; 8]).unwrap(), 0);
    }
}

#[test]
fn clipping_is_told() {
    let square: Vec<i16> = (0..8_000)
        .map(|i| if i / 10 % 2 == 0 { i16::MAX } else { i16::MIN })
        .collect();
    let mut reader = from_bytes(&hound_wav(8_000, 1, &square), &channel(1)).unwrap();
    drain(&mut reader, 512);
    assert_eq!(reader.notices(), [Notice::Clipped { share: 1.0 }]);
}

/// Reads whatever `bytes` are. More samples than this cannot come out of a small file:
/// FLAC packs at most 65535 equal samples into some 10 bytes, and gaps are bounded too.
fn survives(bytes: &[u8]) {
    const MOST: u64 = 200_000_000;
    let Ok(mut reader) = from_bytes(bytes, &ReadOptions::default()) else {
        return;
    };
    let mut block = vec![0.0; 4_096];
    while let Ok(1..) = reader.read(&mut block) {
        assert!(block.iter().all(|s| s.is_finite()));
        assert!(reader.position() < MOST);
    }
    for notice in reader.notices() {
        assert!(!notice.to_string().is_empty());
    }
}

fn seeds() -> Vec<Vec<u8>> {
    let names = [
        "tone.flac",
        "tone-24.flac",
        "tone-flac.ogg",
        "tone-vorbis.ogg",
    ];
    let mut all: Vec<Vec<u8>> = names.map(|n| std::fs::read(fixture(n)).unwrap()).to_vec();
    all.push(hound_wav(8_000, 2, &samples(2_000)));
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    #[test]
    fn mutated_files_do_no_harm(
        which in 0..5usize,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        early in prop::collection::vec((0..200usize, any::<u8>()), 0..4),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = seeds().swap_remove(which);
        for (at, value) in changes {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        // Headers deserve more than their share.
        for (at, value) in early {
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        survives(&bytes);
    }

    #[test]
    fn noise_after_a_known_beginning_does_no_harm(
        mark in prop::sample::select(vec![&b"RIFF\0\0\0\0WAVE"[..], b"RF64\0\0\0\0WAVE", b"fLaC", b"OggS", b""]),
        noise in prop::collection::vec(any::<u8>(), 0..600),
    ) {
        survives(&[mark, &noise[..]].concat());
    }
}
