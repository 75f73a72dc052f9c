//! `markhold bench range`: step by step to the range of a machine's selector.

use super::on_line::{OnLine, ToOptions};
use super::sending::{HowToSend, Kind, SendingOptions};
use crate::outcome::{Outcome, say};
use crate::stopping;
use anyhow::{Context, bail};
use clap::Args;
use markhold_bench::caution;
use markhold_bench::drawing;
use markhold_bench::range::{Answer, Kind as Distorted, Range, RangeFinding, Step, Trial};
use markhold_code::Stretch;
use markhold_event::VERSION;
use markhold_sound::create_file;
use serde::Serialize;
use std::io::{BufRead, Write};
use std::path::PathBuf;

/// Find the range of a machine's selector, step by step.
///
/// Each step is sent to the machine, or makes a WAV file to be played to it; answer whether it
/// printed right.
/// The result says how much bias and end distortion the machine bears on either side, where
/// in the element its selector looks, and by how much to shift its orientation.
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench range --to us-72-45 --way rts:/dev/ttyUSB0
  markhold bench range --out trial.wav --svg range.svg
  markhold bench range alternating --rate 50 --out trial.wav --json

Caution. {}

{}", caution::MOVING_PARTS, caution::LOOP))]
pub struct Options {
    /// What to send
    #[arg(value_enum, default_value = "combinations")]
    kind: Kind,

    /// WAV file of the tones, made anew for each step
    #[arg(long, value_name = "FILE", required_unless_present = "to")]
    out: Option<PathBuf>,

    /// Characters at least; the pattern is sent in whole rounds
    #[arg(long, value_name = "N", default_value = "68")]
    count: usize,

    /// A drawing of the range to make, replaced if it exists
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,

    /// One JSON object instead of text at the end
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    sending: SendingOptions,

    #[command(flatten)]
    to: ToOptions,
}

#[derive(Serialize)]
#[serde(tag = "type", rename = "range")]
struct Json {
    version: u32,
    marking_bias: u8,
    spacing_bias: u8,
    marking_end: u8,
    spacing_end: u8,
    margin: u8,
    look_begins: f64,
    look_ends: f64,
    off_centre: f64,
    margin_centred: f64,
}

/// Asks until the range is found.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    say(&format!("Caution. {}", caution::MOVING_PARTS));
    say("Answer r (all printed right), w (something wrong), a (again) or q (quit).");
    let machine = options.to.setup()?;
    let sending = options
        .sending
        .of(machine.as_ref().map(|(_, setup)| &setup.machine));
    let open = |(name, setup): &(String, _)| OnLine::open(name, setup, sending.speed(0.0));
    let on_line = machine.as_ref().map(open).transpose()?;
    let mut answers = std::io::stdin().lock().lines();
    let mut finding = RangeFinding::new(options.kind.pattern(sending.width));
    loop {
        let trial = match finding.step() {
            Step::Send(trial) => trial,
            Step::Found(range) => return found(options, &range),
            Step::Unfit => bail!(
                "even the undistorted pattern is printed wrong; see to speed, loop current and \
                 wear first, then try again"
            ),
        };
        say(&describe(&trial, options));
        let line = sending.line(trial.pattern, options.count, trial.distortion(), 0.0)?;
        loop {
            give(options, &sending, on_line.as_ref(), &line)?;
            match stopping::waiting(|| ask(&mut answers))? {
                Asked::Printed(answer) => break finding.answer(answer),
                Asked::Again => {}
                Asked::Quit => {
                    bail!("stopped before the range was found; begin again when ready")
                }
            }
        }
    }
}

/// Makes the file, and sends to the machine.
fn give(
    options: &Options,
    sending: &HowToSend<'_>,
    on_line: Option<&OnLine>,
    line: &[Stretch],
) -> anyhow::Result<()> {
    if let Some(out) = &options.out {
        let name = || out.display().to_string();
        sending.write_tones(line, out).with_context(name)?;
    }
    on_line.map_or(Ok(()), |on_line| on_line.line(line))
}

fn describe(trial: &Trial, options: &Options) -> String {
    let what = match trial.kind {
        None => "undistorted".to_string(),
        Some(kind) => format!("{} % {}", trial.percent, kind.name()),
    };
    let how = match &options.out {
        Some(out) if options.to.to.is_none() => format!("play {} to the machine. ", out.display()),
        _ => String::new(),
    };
    format!("{:2}. {what}: {how}Right?", trial.number)
}

/// What a person answers.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Asked {
    Printed(Answer),
    Again,
    Quit,
}

/// The next answer; the end of input is "quit".
fn ask(lines: &mut impl Iterator<Item = std::io::Result<String>>) -> anyhow::Result<Asked> {
    for line in lines {
        match line?.trim().to_ascii_lowercase().as_str() {
            "r" | "right" => return Ok(Asked::Printed(Answer::Right)),
            "w" | "wrong" => return Ok(Asked::Printed(Answer::Wrong)),
            "q" | "quit" => return Ok(Asked::Quit),
            "a" | "again" => return Ok(Asked::Again),
            other => say(&format!(
                "    \"{other}\" found; answer r (right), w (wrong), a (again) or q (quit)."
            )),
        }
    }
    Ok(Asked::Quit)
}

fn found(options: &Options, range: &Range) -> anyhow::Result<Outcome> {
    if let Some(file) = &options.svg {
        create_file(file)
            .and_then(|mut file| file.write_all(drawing::range(range).as_bytes()))
            .with_context(|| file.display().to_string())?;
    }
    let words = match options.json {
        true => serde_json::to_string(&json(range))? + "\n",
        false => text(range),
    };
    std::io::stdout().write_all(words.as_bytes())?;
    Ok(Outcome::Done)
}

fn json(range: &Range) -> Json {
    let [marking_bias, spacing_bias, marking_end, spacing_end] = range.borne;
    Json {
        version: VERSION,
        marking_bias,
        spacing_bias,
        marking_end,
        spacing_end,
        margin: range.margin(),
        look_begins: range.look_begins(),
        look_ends: range.look_ends(),
        off_centre: range.off_centre(),
        margin_centred: range.margin_centred(),
    }
}

fn text(range: &Range) -> String {
    let mut words = String::new();
    for kind in Distorted::ALL {
        words += &format!(
            "{:24} borne up to {:2} % of an element\n",
            kind.name(),
            range.of(kind)
        );
    }
    let late = match range.off_centre() {
        off if off > 1.0 => format!("{off:.1} % late: let the selector look earlier"),
        off if off < -1.0 => format!("{:.1} % early: let the selector look later", -off),
        _ => "centred".to_string(),
    };
    words
        + &format!(
            "the selector looks from {:.0} to {:.0} % of an element, {late}\n\
             margin {} %; {:.0} % with the look centred; 50 % is the ideal receiver's (geometry)\n\
             ITU-T S.3 asks a receiver for 35 % (from memory, editions differ; check yours)\n\
             Caution. {}\n",
            range.look_begins(),
            range.look_ends(),
            range.margin(),
            range.margin_centred(),
            caution::MOVING_PARTS
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_are_understood() {
        let lines = |text: &'static str| text.lines().map(|l| Ok(l.to_string()));
        let asked = |text| ask(&mut lines(text)).unwrap();
        assert_eq!(asked("what\n Right "), Asked::Printed(Answer::Right));
        assert_eq!(asked("w"), Asked::Printed(Answer::Wrong));
        assert_eq!(asked("a\nr"), Asked::Again);
        assert_eq!(asked("q\nr"), Asked::Quit);
        assert_eq!(asked(""), Asked::Quit);
    }

    #[test]
    fn the_result_says_where_to_turn() {
        let range = Range {
            borne: [30, 42, 41, 31],
        };
        let text = text(&range);
        assert!(
            text.contains("from 41 to 70 % of an element, 5.5 % late"),
            "{text}"
        );
        assert!(text.contains("margin 30 %; 36 % with"), "{text}");
    }
}
