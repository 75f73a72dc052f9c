//! What several tests of sound need.
#![allow(
    missing_docs,
    dead_code,
    reason = "each test file uses its own part of it"
)]

use markhold_sound::{ReadOptions, SoundError, SoundReader};
use std::io::Cursor;
use std::path::PathBuf;

pub fn fixture(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "tests", "fixtures", name]
        .iter()
        .collect()
}

pub fn channel(number: u16) -> ReadOptions {
    ReadOptions {
        channel: Some(number),
        raw: None,
    }
}

/// Everything that comes out, and the error that ended it, if one did.
pub fn drain(reader: &mut SoundReader, block: usize) -> (Vec<f32>, Option<SoundError>) {
    let mut all = Vec::new();
    let mut out = vec![0.0; block];
    loop {
        match reader.read(&mut out) {
            Ok(0) => return (all, None),
            Ok(count) => all.extend_from_slice(&out[..count]),
            Err(error) => return (all, Some(error)),
        }
    }
}

pub fn from_bytes(bytes: &[u8], options: &ReadOptions) -> Result<SoundReader, SoundError> {
    SoundReader::from_read(Cursor::new(bytes.to_vec()), options)
}

/// The tone of the fixtures: half of full scale, at 8000 Hz.
pub fn tone(hz: f64, count: usize) -> Vec<f32> {
    let step = std::f64::consts::TAU * hz / 8_000.0;
    let amplitude = 10f64.powf(-6.0 / 20.0);
    (0..count)
        .map(|i| (amplitude * (step * i as f64).sin()) as f32)
        .collect()
}

/// Largest difference.
pub fn distance(a: &[f32], b: &[f32]) -> f32 {
    assert_eq!(a.len(), b.len());
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f32::max)
}

/// WAV bytes by an outside writer, the hound crate: 16-bit interleaved samples.
pub fn hound_wav(rate: u32, channels: u16, samples: &[i16]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut out = Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut out, spec).unwrap();
    for sample in samples {
        writer.write_sample(*sample).unwrap();
    }
    writer.finalize().unwrap();
    out.into_inner()
}
