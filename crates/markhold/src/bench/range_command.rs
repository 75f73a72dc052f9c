//! `markhold bench range`: step by step to the range of a machine's selector.

use super::sending::{Kind, SendingOptions};
use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use clap::Args;
use markhold_bench::caution;
use markhold_bench::drawing;
use markhold_bench::range::{Answer, Kind as Distorted, Range, RangeFinding, Step, Trial};
use serde::Serialize;
use std::io::{BufRead, Write};
use std::path::PathBuf;

/// Find the range of a machine's selector, step by step.
///
/// Each step makes a WAV file; play it to the machine and answer whether it printed right.
/// The result says how much bias and end distortion the machine bears on either side, where
/// in the element its selector looks, and by how much to shift its orientation.
#[derive(Args, Debug)]
#[command(after_help = format!("\
Examples:
  markhold bench range --out trial.wav --svg range.svg
  markhold bench range alternating --rate 50 --out trial.wav --json

Caution. {}

{}", caution::MOVING_PARTS, caution::LOOP))]
pub struct Options {
    /// What to send
    #[arg(value_enum, default_value = "combinations")]
    kind: Kind,

    /// WAV file of the tones, made anew for each step
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

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
}

#[derive(Serialize)]
struct Json {
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
    let mut answers = std::io::stdin().lock().lines();
    let mut finding = RangeFinding::new(options.kind.pattern(options.sending.width));
    loop {
        let trial = match finding.step() {
            Step::Send(trial) => trial,
            Step::Found(range) => return found(options, &range),
            Step::Unfit => bail!(
                "even the undistorted pattern is printed wrong; see to speed, loop current and \
                 wear first, then try again"
            ),
        };
        make(options, &trial)?;
        say(&describe(&trial, options));
        match ask(&mut answers)? {
            Some(answer) => finding.answer(answer),
            None => bail!("stopped before the range was found; begin again when ready"),
        }
    }
}

fn make(options: &Options, trial: &Trial) -> anyhow::Result<()> {
    let sending = &options.sending;
    let line = sending.line(trial.pattern, options.count, trial.distortion(), 0.0)?;
    let name = || options.out.display().to_string();
    sending.write_tones(&line, &options.out).with_context(name)
}

fn describe(trial: &Trial, options: &Options) -> String {
    let what = match trial.kind {
        None => "undistorted".to_string(),
        Some(kind) => format!("{} % {}", trial.percent, kind.name()),
    };
    format!(
        "{:2}. {what}: play {} to the machine. Right?",
        trial.number,
        options.out.display()
    )
}

/// The next answer; `None` at the end of input or on "quit".
fn ask(
    lines: &mut impl Iterator<Item = std::io::Result<String>>,
) -> anyhow::Result<Option<Answer>> {
    for line in lines {
        match line?.trim().to_ascii_lowercase().as_str() {
            "r" | "right" => return Ok(Some(Answer::Right)),
            "w" | "wrong" => return Ok(Some(Answer::Wrong)),
            "q" | "quit" => return Ok(None),
            "a" | "again" => say("    The file is still there: play it again."),
            other => say(&format!(
                "    \"{other}\" found; answer r (right), w (wrong), a (again) or q (quit)."
            )),
        }
    }
    Ok(None)
}

fn found(options: &Options, range: &Range) -> anyhow::Result<Outcome> {
    if let Some(file) = &options.svg {
        std::fs::write(file, drawing::range(range)).with_context(|| file.display().to_string())?;
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
        assert_eq!(asked("what\na\n Right "), Some(Answer::Right));
        assert_eq!(asked("w"), Some(Answer::Wrong));
        assert_eq!(asked("q\nr"), None);
        assert_eq!(asked(""), None);
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
