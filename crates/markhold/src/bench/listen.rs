//! A line out of a file: sound or transitions, whichever its content is.

use crate::outcome::say;
use anyhow::{Context, bail};
use markhold_bench::Edge;
use markhold_bench::sound::{Keying, Pair, hear};
use markhold_bench::stamps;
use markhold_sound::{ReadOptions, SoundReader, open_file};
use std::io::{BufReader, Chain, Cursor, Read};
use std::path::Path;

/// Samples read at once.
const BLOCK: usize = 8192;

/// How to listen.
pub struct How {
    pub keying: Keying,
    /// Nominal rate where it is known, baud.
    pub nominal_baud: Option<f64>,
    pub channel: Option<u16>,
    pub from_s: f64,
    pub for_s: f64,
    /// Grain of the clock behind time stamps, s.
    pub grain_s: f64,
}

/// A line as it came.
pub struct Listened {
    pub line: Vec<Edge>,
    pub noise_s: f64,
    pub worst_s: f64,
    pub systematic_s: f64,
    /// Whether it was sound.
    pub is_sound: bool,
    /// The tones, where it was sound of tones.
    pub pair: Option<Pair>,
    /// What it came from, in words.
    pub source: String,
}

/// Reads a file, or standard input for `-`.
pub fn listen(file: &Path, how: &How) -> anyhow::Result<Listened> {
    let input: Box<dyn Read + Send> = match file.to_str() {
        Some("-") => Box::new(std::io::stdin()),
        _ => Box::new(open_file(file)?),
    };
    let begun = Begun::new(input)?;
    match begun.is_text {
        true => transitions(BufReader::new(begun.whole), how),
        false => sound(begun.whole, how),
    }
}

/// An input whose first bytes were looked at.
pub struct Begun {
    /// Whether they look like text and like no sound. What is neither is left to the sound
    /// reader, to say what it looks like.
    pub is_text: bool,
    /// The input from its beginning on.
    pub whole: Chain<Cursor<Vec<u8>>, Box<dyn Read + Send>>,
}

impl Begun {
    pub fn new(mut input: Box<dyn Read + Send>) -> std::io::Result<Self> {
        let mut head = Vec::new();
        (&mut input).take(4).read_to_end(&mut head)?;
        let is_sound = matches!(&head[..], b"RIFF" | b"RF64" | b"BW64" | b"fLaC" | b"OggS");
        let of_text = |b: &u8| b.is_ascii_graphic() || b.is_ascii_whitespace();
        Ok(Begun {
            is_text: !is_sound && !head.is_empty() && head.iter().all(of_text),
            whole: Cursor::new(head).chain(input),
        })
    }
}

fn transitions(input: impl std::io::BufRead, how: &How) -> anyhow::Result<Listened> {
    let all = stamps::read(input)?;
    // Before anything is left out by its time.
    markhold_bench::line::check(&all)?;
    let begin_s = all.first().map_or(0.0, |e| e.at_s) + how.from_s;
    let within = |e: &Edge| (begin_s..=begin_s + how.for_s).contains(&e.at_s);
    let line: Vec<Edge> = all.iter().copied().filter(within).collect();
    Ok(Listened {
        source: format!("{} transitions", line.len()),
        line,
        // Rounding to a grain is uniform.
        noise_s: how.grain_s / 12f64.sqrt(),
        worst_s: how.grain_s / 2.0,
        systematic_s: 0.0,
        is_sound: false,
        pair: None,
    })
}

fn sound(input: impl Read + Send + 'static, how: &How) -> anyhow::Result<Listened> {
    let options = ReadOptions {
        channel: how.channel,
        ..ReadOptions::default()
    };
    let mut reader = SoundReader::from_read(input, &options)?;
    let rate_hz = f64::from(reader.rate());
    let samples = samples(&mut reader, how)?;
    reader.notices().iter().for_each(|n| say(&n.to_string()));
    if samples.is_empty() {
        bail!(
            "the sound ends before {} s; give an earlier --from",
            how.from_s
        );
    }
    let heard = hear(&samples, rate_hz, how.keying, how.nominal_baud)?;
    Ok(Listened {
        line: heard.line,
        noise_s: heard.noise_s,
        worst_s: heard.worst_s,
        systematic_s: heard.systematic_s,
        is_sound: true,
        pair: heard.pair,
        source: reader.describe(),
    })
}

/// The samples asked for. No more are read than that.
fn samples(reader: &mut SoundReader, how: &How) -> anyhow::Result<Vec<f32>> {
    let rate_hz = f64::from(reader.rate());
    let begin = (how.from_s * rate_hz) as u64;
    let end = begin + (how.for_s * rate_hz) as u64;
    let mut block = vec![0.0; BLOCK];
    let mut samples = Vec::new();
    while reader.position() < end {
        let at = reader.position();
        let count = reader.read(&mut block).context("reading the sound")?;
        if count == 0 {
            return Ok(samples);
        }
        let skip = begin.saturating_sub(at).min(count as u64) as usize;
        let stop = (end - at).min(count as u64) as usize;
        samples.extend_from_slice(&block[skip.min(stop)..stop]);
    }
    say(&format!(
        "only {} s were measured, from {} s on; give --for and --from for more",
        how.for_s, how.from_s
    ));
    Ok(samples)
}
