//! `markhold bench measure`: speed and distortion of a line.

use super::listen::{How, Listened, listen};
use super::{report, values};
use crate::cli::Mark;
use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use markhold_bench::caution;
use markhold_bench::drawing::histogram;
use markhold_bench::line::turned;
use markhold_bench::measure::{Knowledge, Measurement, measure};
use markhold_bench::sound::{Keying, Pair};
use std::io::Write;
use std::path::PathBuf;

/// How the line is keyed in the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum KeyedAs {
    /// Two tones.
    Tones,
    /// One tone, on for mark: a contact that keys an audio tone, or a keyed carrier.
    Carrier,
    /// The voltage of the contact itself (much reduced, isolated), a jump for each edge.
    Contact,
}

/// Measure speed and distortion of a line, from sound or from time-stamped transitions.
///
/// FILE is WAV, FLAC or Ogg, or text with one transition a line: seconds, then mark or
/// space (or JSON lines: {"t":0.522,"mark":true}). Sound is measured by the clock of the
/// device that recorded it.
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench measure line.wav --html line.html
  markhold bench measure contact.wav --keying carrier --rate 50 --json
  markhold bench measure stamps.txt --grain 1

Caution. {}", caution::LOOP))]
pub struct Options {
    /// Sound or transitions; - for standard input
    file: PathBuf,

    /// How the line is keyed in the sound
    #[arg(long, value_enum, default_value = "tones")]
    keying: KeyedAs,

    /// The two tones, mark first; found if left out
    #[arg(long, value_name = "MARK,SPACE", value_parser = values::tones, conflicts_with = "mark")]
    tones: Option<(f64, f64)>,

    /// The keyed tone; found if left out
    #[arg(long, value_name = "HZ", value_parser = values::above_zero)]
    tone: Option<f64>,

    /// Which tone is mark; found if left out
    #[arg(long, value_enum)]
    mark: Option<Mark>,

    /// Nominal modulation rate; found if left out
    #[arg(long, value_name = "BAUD", value_parser = values::rate)]
    rate: Option<f64>,

    /// Grain of the clock behind time stamps
    #[arg(long, value_name = "MS", default_value = "0")]
    grain: f64,

    /// Where to begin
    #[arg(long, value_name = "S", default_value = "0")]
    from: f64,

    /// How much to measure
    #[arg(long = "for", value_name = "S", default_value = "300", value_parser = values::above_zero)]
    length: f64,

    /// Channel of the sound, counted from 1
    #[arg(long, value_name = "N")]
    channel: Option<u16>,

    /// One JSON object instead of text
    #[arg(long)]
    json: bool,

    /// A page of the whole report to make, replaced if it exists
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,

    /// A drawing of the histogram to make, replaced if it exists
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
}

impl Options {
    fn keying(&self) -> Keying {
        match self.keying {
            KeyedAs::Carrier => Keying::Carrier(self.tone),
            KeyedAs::Contact => Keying::Contact,
            KeyedAs::Tones => Keying::Tones(self.tones.map(|(mark, space)| Pair {
                low_hz: mark.min(space),
                high_hz: mark.max(space),
            })),
        }
    }

    /// The sense, where it was given: whether mark is the lower tone.
    fn mark_is_lower(&self) -> Option<bool> {
        match (self.keying, self.tones, self.mark) {
            (KeyedAs::Carrier, ..) => Some(true),
            (KeyedAs::Contact, ..) => None,
            (_, Some((mark, space)), _) => Some(mark < space),
            (_, None, Some(mark)) => Some(mark == Mark::Lower),
            (_, None, None) => None,
        }
    }
}

/// Measures and reports.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    if !(options.from >= 0.0 && options.grain >= 0.0) {
        bail!("--from and --grain cannot be below 0");
    }
    let how = How {
        keying: options.keying(),
        nominal_baud: options.rate.map(values::exact_rate),
        channel: options.channel,
        from_s: options.from,
        for_s: options.length,
        grain_s: options.grain / 1e3,
    };
    let name = || options.file.display().to_string();
    let listened = listen(&options.file, &how).with_context(name)?;
    if listened.pair.is_none() || options.keying != KeyedAs::Tones {
        // Such a line was taken from a loop.
        say(&format!("Caution. {}", caution::LOOP));
    }
    let (measured, mark_is_lower) = measured(options, &listened).with_context(name)?;
    let about = report::About {
        name: name(),
        source: listened.source,
        pair: listened.pair,
        mark_is_lower,
    };
    if let Some(file) = &options.svg {
        write(file, &histogram(&measured))?;
    }
    if let Some(file) = &options.html {
        write(file, &report::html(&about, &measured))?;
    }
    let words = match options.json {
        true => report::json(&about, &measured)? + "\n",
        false => report::text(&about, &measured),
    };
    std::io::stdout().write_all(words.as_bytes())?;
    Ok(Outcome::Done)
}

fn measured(options: &Options, listened: &Listened) -> anyhow::Result<(Measurement, bool)> {
    let lower = options.mark_is_lower();
    let knowledge = Knowledge {
        nominal_baud: options.rate.map(values::exact_rate),
        noise_s: listened.noise_s,
        worst_s: listened.worst_s,
        systematic_s: listened.systematic_s,
        either_sense: listened.is_sound && lower.is_none(),
    };
    let begin_lower = lower.unwrap_or(true);
    let measured = match begin_lower {
        true => measure(&listened.line, &knowledge)?,
        false => measure(&turned(&listened.line), &knowledge)?,
    };
    let mark_is_lower = begin_lower != measured.turned;
    Ok((measured, mark_is_lower))
}

fn write(file: &std::path::Path, words: &str) -> anyhow::Result<()> {
    std::fs::write(file, words).with_context(|| file.display().to_string())
}
