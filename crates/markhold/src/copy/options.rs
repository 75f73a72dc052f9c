//! What `markhold copy` may be told.

use super::json::Json;
use super::lines::Lines;
use super::marker::Marker;
use super::output::Output;
use super::running::Running;
use crate::cli::{Figures, Mark};
use clap::{Args, ValueEnum};
use markhold_receive::{event::Sense, settings::Settings};
use markhold_station::sound::{RawFormat, ReadOptions};
use std::io::{IsTerminal, stdout};
use std::path::PathBuf;

/// How doubtful characters are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Doubt {
    /// Like the others.
    Plain,
    /// Dim and underlined on a terminal, otherwise between [ and ], which the five-unit
    /// alphabet lacks.
    Marked,
}

/// Print the text in recordings.
///
/// The signal is searched for: tones, shift, modulation rate and sense need not be known.
/// Text goes to standard output as soon as it is decided, everything else to standard
/// error. Exit code: 0 text was copied, 1 nothing was found, 2 something went wrong (what
/// had been copied until then is printed).
#[derive(Args, Debug)]
#[command(after_help = "\
Lines end as on the wire: carriage return with line feed is one new line, either alone is
one too. Bell and \"who are you\" leave nothing in the text; they stand in --json.

Examples:
  markhold copy evening.wav
  markhold copy --all --json night-*.flac > night.jsonl
  arecord -t raw -f S16_LE -r 12000 | markhold copy --raw 12000 -")]
pub struct Options {
    /// Sound files: WAV, FLAC or Ogg Vorbis; - for standard input
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,

    /// Print one JSON object per line
    #[arg(long)]
    json: bool,

    /// Print first readings too, each as soon as its stop element was heard
    #[arg(long, requires = "json")]
    early: bool,

    /// Print doubtful characters like the others, or visibly marked (on a terminal marked
    /// is usual, elsewhere plain)
    #[arg(long, value_enum, conflicts_with = "json")]
    doubt: Option<Doubt>,

    /// Copy every signal, not only the strongest
    #[arg(long, help_heading = "Signal", conflicts_with = "at")]
    all: bool,

    /// Copy the signal whose middle is nearest to this audio frequency
    #[arg(long, help_heading = "Signal", value_name = "HZ")]
    at: Option<f64>,

    /// Distance of the tones
    #[arg(long, help_heading = "Signal", value_name = "HZ")]
    shift: Option<f64>,

    /// Modulation rate
    #[arg(long, help_heading = "Signal", value_name = "BAUD")]
    rate: Option<f64>,

    /// Which tone is mark
    #[arg(long, help_heading = "Signal", value_enum)]
    mark: Option<Mark>,

    /// Figures row
    #[arg(long, help_heading = "Signal", value_enum, default_value = "ita2")]
    figures: Figures,

    /// A space returns to letters
    #[arg(long, help_heading = "Signal")]
    unshift_on_space: bool,

    /// Channel of the recording, counted from 1
    #[arg(long, help_heading = "Sound", value_name = "N")]
    channel: Option<u16>,

    /// The input is bare samples; FORMAT is u8, s16le (usual), s24le, s32le or f32le
    #[arg(long, help_heading = "Sound", value_name = "RATE[,FORMAT[,CHANNELS]]")]
    raw: Option<RawFormat>,
}

impl Options {
    pub fn settings(&self) -> Settings {
        Settings {
            at_hz: self.at,
            shift_hz: self.shift,
            rate_baud: self.rate,
            sense: self.mark.map(|mark| match mark {
                Mark::Lower => Sense::LowerTone,
                Mark::Higher => Sense::HigherTone,
            }),
            figures_row: self.figures.into(),
            unshift_on_space: self.unshift_on_space,
            all: self.all,
            early: self.early,
        }
    }

    pub fn read_options(&self) -> ReadOptions {
        ReadOptions {
            channel: self.channel,
            raw: self.raw,
        }
    }

    /// Where events go.
    pub fn output(&self) -> Box<dyn Output> {
        let out = stdout();
        let marker = marker(self.doubt, out.is_terminal());
        match (self.json, self.all) {
            (true, _) => Box::new(Json::new(out)),
            (false, true) => Box::new(Lines::new(out, marker)),
            (false, false) => Box::new(Running::new(out, marker)),
        }
    }
}

/// How doubt is shown: as asked for, else marked where a person watches.
pub fn marker(doubt: Option<Doubt>, is_terminal: bool) -> Marker {
    match (doubt, is_terminal) {
        (Some(Doubt::Plain), _) | (None, false) => Marker::None,
        (Some(Doubt::Marked) | None, true) => Marker::Terminal,
        (Some(Doubt::Marked), false) => Marker::Brackets,
    }
}
