//! Every format against an outside writer: the hound crate for WAV; sox, flac and oggenc
//! for the rest (see fixtures/README.md).
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_sound::{Notice, ReadOptions, SoundReader};
use std::io::{Cursor, Read};

fn read_wav(bytes: &[u8], number: u16) -> Vec<f32> {
    let mut reader = from_bytes(bytes, &channel(number)).unwrap();
    let (all, error) = drain(&mut reader, 333);
    assert!(error.is_none() && reader.notices().is_empty());
    assert_eq!(reader.len_hint(), Some(all.len() as u64));
    all
}

#[test]
fn integer_wav_of_every_width_and_channel() {
    for bits in [8, 16, 24, 32] {
        for channels in [1u16, 2, 3, 32] {
            let spec = hound::WavSpec {
                channels,
                sample_rate: 12_000,
                bits_per_sample: bits,
                sample_format: hound::SampleFormat::Int,
            };
            let mut out = Cursor::new(Vec::new());
            let mut writer = hound::WavWriter::new(&mut out, spec).unwrap();
            let value = |frame: i32, number: i32| ((frame * 7 + number) % 128) << (bits - 8);
            for frame in 0..50 {
                for number in 0..i32::from(channels) {
                    writer.write_sample(value(frame, number)).unwrap();
                }
            }
            writer.finalize().unwrap();
            let bytes = out.into_inner();
            for number in 1..=channels {
                let expected: Vec<f32> = (0..50)
                    .map(|frame| {
                        let value = value(frame, i32::from(number) - 1);
                        value as f32 / (1u64 << (bits - 1)) as f32
                    })
                    .collect();
                assert_eq!(
                    read_wav(&bytes, number),
                    expected,
                    "{bits} bits, channel {number}"
                );
            }
        }
    }
}

#[test]
fn float_wav_with_its_bad_samples_silenced() {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 44_100,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut out = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut out, spec).unwrap();
    for sample in [0.5, f32::NAN, -0.25, f32::INFINITY, 3.0] {
        writer.write_sample(sample).unwrap();
    }
    writer.finalize().unwrap();
    let mut reader = from_bytes(&out.into_inner(), &ReadOptions::default()).unwrap();
    assert_eq!(drain(&mut reader, 4).0, [0.5, 0.0, -0.25, 0.0, 3.0]);
    assert_eq!(reader.notices(), [Notice::NotNumbers { samples: 2 }]);
}

#[test]
fn flac_equals_the_tone_it_was_made_from() {
    for (name, frames) in [("tone.flac", 12_000), ("tone-flac.ogg", 12_000)] {
        for (number, hz) in [(1, 441.0), (2, 1_000.0)] {
            let mut reader = SoundReader::open(&fixture(name), &channel(number)).unwrap();
            assert_eq!((reader.rate(), reader.channels()), (8_000, 2));
            let (all, error) = drain(&mut reader, 1_000);
            assert!(error.is_none() && reader.notices().is_empty(), "{name}");
            // Half a step of 16 bits, and rounding.
            assert!(distance(&all, &tone(hz, frames)) < 2.0 / 32_768.0, "{name}");
        }
    }
    let mut reader = SoundReader::open(&fixture("tone-24.flac"), &channel(1)).unwrap();
    assert_eq!(reader.len_hint(), Some(2_000));
    let (all, _) = drain(&mut reader, 77);
    assert!(distance(&all, &tone(441.0, 2_000)) < 2.0 / 8_388_608.0);
}

#[test]
fn vorbis_comes_near_its_tone_and_has_its_length() {
    for (number, hz) in [(1, 441.0), (2, 1_000.0)] {
        let mut reader = SoundReader::open(&fixture("tone-vorbis.ogg"), &channel(number)).unwrap();
        let (all, error) = drain(&mut reader, 1_000);
        assert!(
            error.is_none() && reader.notices().is_empty(),
            "{:?}",
            reader.notices()
        );
        // Lossy: the ends ring, the middle must be within a tenth of the tone.
        let middle = 1_000..11_000;
        assert_eq!(all.len(), 12_000);
        let expected = tone(hz, 12_000);
        assert!(distance(&all[middle.clone()], &expected[middle]) < 0.05);
    }
}

/// How strong a tone is, whatever its phase: the encoder moves everything by some of its samples.
fn strength(samples: &[f32], hz: f64) -> f64 {
    let turn = |n: usize| std::f64::consts::TAU * hz * n as f64 / 8_000.0;
    let sum = |of: fn(f64) -> f64| -> f64 {
        let each = samples.iter().enumerate();
        each.map(|(n, s)| f64::from(*s) * of(turn(n))).sum()
    };
    2.0 * sum(f64::sin).hypot(sum(f64::cos)) / samples.len() as f64
}

#[test]
fn mp3_has_its_tones_behind_a_tag() {
    for (number, hz, other) in [(1, 441.0, 1_000.0), (2, 1_000.0, 441.0)] {
        let mut reader = SoundReader::open(&fixture("tone.mp3"), &channel(number)).unwrap();
        assert_eq!((reader.rate(), reader.channels()), (8_000, 2));
        let (all, error) = drain(&mut reader, 1_000);
        assert!(error.is_none(), "{error:?}");
        // Two frames of 576 samples are the encoder's own, and the last one is filled up.
        assert!((12_000..14_500).contains(&all.len()), "{}", all.len());
        let middle = &all[2_000..10_000];
        assert!(
            (strength(middle, hz) - 0.5).abs() < 0.03,
            "{}",
            strength(middle, hz)
        );
        assert!(strength(middle, other) < 0.03);
    }
}

#[test]
fn any_block_size_gives_the_same_samples() {
    for name in ["tone.flac", "tone-vorbis.ogg", "tone.mp3"] {
        let whole = drain(
            &mut SoundReader::open(&fixture(name), &channel(2)).unwrap(),
            50_000,
        )
        .0;
        for block in [1, 13, 1_024] {
            let mut reader = SoundReader::open(&fixture(name), &channel(2)).unwrap();
            assert!(drain(&mut reader, block).0 == whole, "{name}, {block}");
        }
    }
}

#[test]
fn raw_samples_as_described() {
    let bytes: Vec<u8> = [100i16, -100, 200, -200]
        .iter()
        .flat_map(|s| s.to_le_bytes())
        .collect();
    let options = ReadOptions {
        channel: Some(2),
        raw: Some("48000,s16le,2".parse().unwrap()),
    };
    let mut reader = from_bytes(&bytes, &options).unwrap();
    let (all, error) = drain(&mut reader, 10);
    assert_eq!(all, [-100.0 / 32_768.0, -200.0 / 32_768.0]);
    assert!(error.is_none());
    assert_eq!(
        reader.describe(),
        "raw samples, 16-bit, 48000 Hz, channel 2 of 2"
    );
}

/// Gives one byte a time, as a slow pipe may.
struct Drip(Cursor<Vec<u8>>);

impl Read for Drip {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let count = out.len().min(1);
        self.0.read(&mut out[..count])
    }
}

#[test]
fn a_dripping_pipe_gives_the_same() {
    for name in ["tone.flac", "tone-vorbis.ogg", "tone.mp3"] {
        let bytes = std::fs::read(fixture(name)).unwrap();
        let expected = drain(&mut from_bytes(&bytes, &channel(1)).unwrap(), 512).0;
        let drip = Drip(Cursor::new(bytes));
        let mut reader = SoundReader::from_read(drip, &channel(1)).unwrap();
        assert!(drain(&mut reader, 512).0 == expected, "{name}");
    }
    let samples: Vec<i16> = (0..500).collect();
    let drip = Drip(Cursor::new(hound_wav(8_000, 1, &samples)));
    let mut reader = SoundReader::from_read(drip, &channel(1)).unwrap();
    assert_eq!(drain(&mut reader, 64).0.len(), 500);
}
