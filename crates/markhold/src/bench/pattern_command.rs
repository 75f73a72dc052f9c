//! `markhold bench pattern`: test patterns as tones or as transitions.

use super::on_line::{OnLine, ToOptions};
use super::sending::{Kind, SendingOptions};
use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use clap::Args;
use markhold_bench::stamps;
use markhold_bench::{Distortion, caution, line::edges};
use markhold_sound::create_file;
use std::io::BufWriter;
use std::path::PathBuf;

/// Make a test pattern, exact in speed, distorted if wanted, or send it to a machine.
///
/// Distortion is in percent of an element and counts from the start edge of each character
/// (ITU-T R.140, Federal Standard 1037C).
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench pattern alternating --out adjust.wav
  markhold bench pattern combinations --rate 50 --bias -20 --edges biased.jsonl --out biased.wav
  markhold bench pattern alternating --to us-72-45 --way rts:/dev/ttyUSB0 --count 2000

{}", caution::MOVING_PARTS))]
pub struct Options {
    /// What to send
    #[arg(value_enum, default_value = "alternating")]
    kind: Kind,

    /// WAV file of the tones to make, replaced if it exists
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// File of transitions to make (JSON lines: seconds, mark or not), replaced if it exists
    #[arg(long, value_name = "FILE")]
    edges: Option<PathBuf>,

    /// Characters at least; the pattern is sent in whole rounds
    #[arg(long, value_name = "N", default_value = "200")]
    count: usize,

    /// Bias: above 0 marks are lengthened (marking bias), below 0 shortened
    #[arg(
        long,
        value_name = "PERCENT",
        default_value = "0",
        allow_negative_numbers = true
    )]
    bias: f64,

    /// End distortion: above 0 marks end late (marking end), below 0 early
    #[arg(
        long,
        value_name = "PERCENT",
        default_value = "0",
        allow_negative_numbers = true
    )]
    end: f64,

    /// Fortuitous distortion: each transition is off by a random share up to this
    #[arg(long, value_name = "PERCENT", default_value = "0")]
    fortuitous: f64,

    /// Speed error: above 0 fast
    #[arg(
        long,
        value_name = "PERCENT",
        default_value = "0",
        allow_negative_numbers = true
    )]
    speed_error: f64,

    #[command(flatten)]
    sending: SendingOptions,

    #[command(flatten)]
    to: ToOptions,
}

/// Makes the files, and sends.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    if options.out.is_none() && options.edges.is_none() && options.to.to.is_none() {
        bail!(
            "nowhere to put the pattern; give --to NAME (a machine), --out FILE (tones) or --edges \
             FILE (transitions)"
        );
    }
    if !(-50.0..=50.0).contains(&options.speed_error) {
        bail!(
            "the speed error is {} %; give -50 to 50",
            options.speed_error
        );
    }
    let distortion = Distortion {
        bias: options.bias / 100.0,
        end: options.end / 100.0,
        fortuitous: options.fortuitous / 100.0,
    };
    let machine = options.to.setup()?;
    let sending = &options
        .sending
        .of(machine.as_ref().map(|(_, setup)| &setup.machine));
    let pattern = options.kind.pattern(sending.width);
    let line = sending.line(
        pattern,
        options.count,
        distortion,
        options.speed_error / 100.0,
    )?;
    let length_s: f64 = line.iter().map(|s| s.length_s).sum();
    if let Some(out) = &options.out {
        let name = || out.display().to_string();
        sending.write_tones(&line, out).with_context(name)?;
        say(&format!("{}: {}", name(), crate::words::time(length_s)));
    }
    if let Some(out) = &options.edges {
        let name = || out.display().to_string();
        let file = create_file(out).with_context(name)?;
        let edges = edges(&line);
        stamps::write(&edges, BufWriter::new(file)).with_context(name)?;
        say(&format!("{}: {} transitions", name(), edges.len()));
    }
    say(&format!("Caution. {}", caution::MOVING_PARTS));
    if let Some((name, setup)) = &machine {
        let speed = sending.speed(options.speed_error / 100.0);
        let on_line = OnLine::open(name, setup, speed)?;
        match distortion == Distortion::default() {
            true => on_line.send(&pattern.at_least(options.count))?,
            false => on_line.line(&line)?,
        }
    }
    Ok(Outcome::Done)
}
