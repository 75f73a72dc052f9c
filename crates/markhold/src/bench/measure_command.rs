//! `markhold bench measure`: speed and distortion of a line.

use super::listen::{How, Listened, listen};
use super::running::{self, From};
use super::{report, values};
use crate::choices::Mark;
use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use markhold_bench::caution;
use markhold_bench::drawing::histogram;
use markhold_bench::line::turned;
use markhold_bench::measure::{Knowledge, Measurement, measure};
use markhold_bench::sound::{Keying, Pair};
use markhold_sound::create_file;
use markhold_wire::StatusWire;
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

/// A status wire of a serial port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum WireName {
    Cts,
    Dsr,
    Dcd,
    Ri,
}

/// Measure speed and distortion of a line, from sound or from time-stamped transitions.
///
/// FILE is WAV, FLAC, Ogg or MP3, or text with one transition a line: seconds, then mark or
/// space (or JSON lines: {"t":0.522,"mark":true}). Sound is measured by the clock of the
/// device that recorded it.
///
/// With --input, --serial or --every the line is measured while it comes, a fixed number of
/// characters at a time, each with histogram and verdict: adjust, and see what becomes of it.
/// A serial port gives time stamps as text from a timing interface of your own, or with
/// --wire the level of a status wire that an opto-coupler drives, asserted for mark. Such a
/// wire is looked at some thousand times a second; how far apart the looks were is measured
/// and counts as error, so a port that answers slowly (many USB adapters need 1 ms and more)
/// gets wide figures or no verdict. A sound input (--keying contact) is better then.
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench measure line.wav --html line.html
  markhold bench measure contact.wav --keying carrier --rate 50 --json
  markhold bench measure stamps.txt --grain 1
  markhold bench measure --input line --keying contact --every 50
  markhold bench measure --serial /dev/ttyS0 --wire cts --rate 45.45

Caution. {}", caution::LOOP))]
pub struct Options {
    /// Sound or transitions; - for standard input
    #[arg(required_unless_present_any = ["input", "serial"])]
    file: Option<PathBuf>,

    /// Measure a sound input while it comes; a part of its name is enough
    #[arg(long, value_name = "NAME", help_heading = "While it comes", conflicts_with_all = ["file", "serial"])]
    input: Option<String>,

    /// Measure a serial port while it comes: time stamps, or a status wire with --wire
    #[arg(
        long,
        value_name = "PORT",
        help_heading = "While it comes",
        conflicts_with = "file"
    )]
    serial: Option<String>,

    /// The status wire of the port that follows the line, asserted for mark
    #[arg(long, value_enum, help_heading = "While it comes", requires = "serial")]
    wire: Option<WireName>,

    /// Report after each so many characters [default: 50]; also for standard input
    #[arg(long, value_name = "N", help_heading = "While it comes")]
    #[arg(value_parser = clap::value_parser!(u32).range(20..=10_000))]
    every: Option<u32>,

    /// End after so many reports
    #[arg(long, value_name = "N", help_heading = "While it comes")]
    times: Option<u64>,

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

    /// How much to measure [default: 300, and all of what is measured while it comes]
    #[arg(long = "for", value_name = "S", value_parser = values::above_zero)]
    length: Option<f64>,

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

/// How much of a recording is measured unless more is asked for, s.
const USUAL_LENGTH_S: f64 = 300.0;
/// Characters of one report: what a machine types in some eight seconds.
const USUAL_EVERY: u32 = 50;

impl Options {
    /// What is measured while it comes, if that was asked for.
    fn running(&self) -> anyhow::Result<Option<(From, running::How)>> {
        let from = match (&self.input, &self.serial, &self.file, self.wire) {
            (Some(name), ..) => From::Input(name.clone()),
            (_, Some(port), _, None) => From::Serial(port.clone()),
            (_, Some(port), _, Some(wire)) => From::Wire(port.clone(), wire.into()),
            (_, _, Some(file), _) if self.every.is_some() => match file.to_str() {
                Some("-") => From::Pipe,
                _ => bail!("--every is for lines that come: give - , --input or --serial"),
            },
            _ => return Ok(None),
        };
        if self.html.is_some() || self.svg.is_some() || self.from > 0.0 {
            bail!("--html, --svg and --from are for recordings; record the line first");
        }
        let how = running::How {
            keying: self.keying(),
            nominal_baud: self.rate.map(values::exact_rate),
            mark_is_lower: self.mark_is_lower(),
            channel: self.channel,
            grain_s: self.grain / 1e3,
            every: self.every.unwrap_or(USUAL_EVERY) as usize,
            times: self.times,
            for_s: self.length.unwrap_or(f64::INFINITY),
            json: self.json,
        };
        Ok(Some((from, how)))
    }

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

impl std::convert::From<WireName> for StatusWire {
    fn from(name: WireName) -> Self {
        match name {
            WireName::Cts => StatusWire::Cts,
            WireName::Dsr => StatusWire::Dsr,
            WireName::Dcd => StatusWire::Dcd,
            WireName::Ri => StatusWire::Ri,
        }
    }
}

/// Measures and reports.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    if !(options.from >= 0.0 && options.grain >= 0.0) {
        bail!("--from and --grain cannot be below 0");
    }
    if let Some((from, how)) = options.running()? {
        return running::run(&from, &how);
    }
    let file = options.file.as_deref().context("a file")?;
    let how = How {
        keying: options.keying(),
        nominal_baud: options.rate.map(values::exact_rate),
        channel: options.channel,
        from_s: options.from,
        for_s: options.length.unwrap_or(USUAL_LENGTH_S),
        grain_s: options.grain / 1e3,
    };
    let name = || file.display().to_string();
    let listened = listen(file, &how).with_context(name)?;
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
    create_file(file)
        .and_then(|mut file| file.write_all(words.as_bytes()))
        .with_context(|| file.display().to_string())
}
