//! Runs the program as a script would.
#![allow(
    missing_docs,
    dead_code,
    unused_imports,
    reason = "each test file uses its own part of it"
)]

#[path = "../program/mod.rs"]
mod program;
pub use program::{program, told};

use std::io::Write;
use std::process::{Command, Stdio};

pub struct Done {
    pub code: i32,
    pub out: String,
    pub err: String,
}

pub fn command<'a>(words: impl IntoIterator<Item = &'a str>) -> Command {
    let mut command = Command::new(program());
    command
        .args(words)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

pub fn markhold<'a>(words: impl IntoIterator<Item = &'a str>) -> Done {
    done(command(words).output().unwrap())
}

/// With bytes on standard input. The program may stop reading early.
pub fn markhold_with<'a>(words: impl IntoIterator<Item = &'a str>, input: &[u8]) -> Done {
    let mut child = command(words).stdin(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    std::thread::scope(|scope| {
        scope.spawn(move || {
            let _ = stdin.write_all(input);
        });
        done(child.wait_with_output().unwrap())
    })
}

impl Done {
    /// The values of its lines; the program ended well.
    pub fn json(&self) -> Vec<serde_json::Value> {
        assert_eq!(self.code, 0, "{}", self.err);
        let lines = self.out.lines();
        lines.map(|l| serde_json::from_str(l).unwrap()).collect()
    }
}

pub fn done(output: std::process::Output) -> Done {
    Done {
        code: output.status.code().expect("an exit code"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A recording made by `markhold air`; gives its path.
pub fn recording(folder: &tempfile::TempDir, name: &str, text: &str, more: &[&str]) -> String {
    let path = folder.path().join(name).display().to_string();
    let words = ["air", text, "--out", &path];
    let done = markhold(words.into_iter().chain(more.iter().copied()));
    assert_eq!(done.code, 0, "{}", done.err);
    path
}

/// A WAV header by hand, 44 bytes, and as many bytes of silence: outside writers refuse
/// such headers.
pub fn wav_header(channels: u16, rate: u32, data: u32) -> Vec<u8> {
    let mut bytes = b"RIFF".to_vec();
    bytes.extend((36 + data).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0");
    bytes.extend(channels.to_le_bytes());
    bytes.extend(rate.to_le_bytes());
    bytes.extend((rate * 2 * u32::from(channels)).to_le_bytes());
    bytes.extend((2 * channels).to_le_bytes());
    bytes.extend(b"\x10\0data");
    bytes.extend(data.to_le_bytes());
    bytes.resize(bytes.len() + data as usize, 0);
    bytes
}

/// A floating-point WAV file at 12000 Hz by an outside writer, the hound crate.
pub fn float_wav(folder: &tempfile::TempDir, name: &str, samples: &[f32]) -> String {
    write(folder, name, 1, samples)
}

fn write(folder: &tempfile::TempDir, name: &str, channels: u16, samples: &[f32]) -> String {
    let path = folder.path().join(format!("{name}.wav"));
    let spec = hound::WavSpec {
        channels,
        sample_rate: 12_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    samples
        .iter()
        .for_each(|s| writer.write_sample(*s).unwrap());
    writer.finalize().unwrap();
    path.display().to_string()
}

/// What becomes of a sample, by its place and value.
pub type Change = fn(usize, f32) -> f32;

/// A copy of a 16-bit recording, each sample changed; gives its path.
pub fn changed(folder: &tempfile::TempDir, name: &str, from: &str, change: Change) -> String {
    let samples: Vec<f32> = samples(from)
        .into_iter()
        .enumerate()
        .map(|(i, x)| change(i, x))
        .collect();
    write(folder, name, 1, &samples)
}

/// Two recordings as the two channels of one; as long as the shorter.
pub fn stereo(folder: &tempfile::TempDir, left: &str, right: &str) -> String {
    let both: Vec<f32> = samples(left)
        .into_iter()
        .zip(samples(right))
        .flat_map(|(l, r)| [l, r])
        .collect();
    write(folder, "stereo", 2, &both)
}

/// Two recordings added; as long as the longer.
pub fn mixed(folder: &tempfile::TempDir, one: &str, other: &str) -> String {
    let (mut one, mut other) = (samples(one), samples(other));
    let length = one.len().max(other.len());
    one.resize(length, 0.0);
    other.resize(length, 0.0);
    let sum: Vec<f32> = one.iter().zip(&other).map(|(a, b)| a + b).collect();
    write(folder, "mixed", 1, &sum)
}

fn samples(path: &str) -> Vec<f32> {
    let mut reader = hound::WavReader::open(path).unwrap();
    reader
        .samples::<i16>()
        .map(|s| f32::from(s.unwrap()) / 32_768.0)
        .collect()
}
