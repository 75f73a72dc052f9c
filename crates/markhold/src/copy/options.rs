//! What `markhold copy` may be told.

use super::json::Json;
use super::lines::Lines;
use super::marker::Marker;
use super::output::Output;
use super::running::Running;
use super::to_machine::ToMachine;
use crate::choices::{Figures, Language, Mark};
use crate::machine::Outfit;
use anyhow::bail;
use clap::{Args, ValueEnum};
use markhold_event::Sense;
use markhold_receive::Settings;
use markhold_sound::{RawFormat, ReadOptions};
use markhold_station::settings::{Hold, InUse};
use markhold_wire::play::{Setup, USUAL_PATIENCE_S};
use std::io::{IsTerminal, stdout};
use std::path::PathBuf;

/// How doubtful characters are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Doubt {
    /// Like the others.
    Plain,
    /// Dim and underlined on a terminal, otherwise between [ and ]; what language changed
    /// slanted and underlined, or between { and }. The five-unit alphabet has none of these.
    Marked,
}

/// Print the text in recordings, or what a sound input hears.
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
  markhold copy --together receiver.wav friend.flac
  markhold copy --input \"Line In\" --to shack
  markhold copy evening.wav --to us-72-45 --dry --page evening.pdf
  arecord -t raw -f S16_LE -r 12000 | markhold copy --raw 12000 - --to shack")]
pub struct Options {
    /// Sound files: WAV, FLAC, Ogg Vorbis or MP3; - for standard input
    #[arg(required_unless_present = "input", value_name = "FILE")]
    pub files: Vec<PathBuf>,

    #[command(flatten)]
    pub live: LiveOptions,

    /// The files, or the channels of one file, are what several receivers heard of one
    /// transmission: it is copied once, out of all of them
    ///
    /// Tones, senses and sampling rates may differ, and clocks by up to 30 s and 300 ppm: that is
    /// found from the copy of each. Times are those of the file named first in what is said.
    #[arg(long, conflicts_with_all = ["input", "early", "to"])]
    pub together: bool,

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

    /// Print on this page printer, instead of on standard output
    ///
    /// One of the settings file or a ready-made one (markhold machine lists them). Keep
    /// clear of loop, mains and moving parts; local codes and licensed practice come first.
    #[arg(long, value_name = "MACHINE", help_heading = "Machine")]
    #[arg(conflicts_with_all = ["json", "all", "doubt"])]
    to: Option<String>,

    #[command(flatten)]
    outfit: Outfit,

    /// Let English join the reading: off, only mark what it would change, or on; it has no say
    /// in figures, calls and code groups [default: on, but off with --to: what is on paper
    /// bears no marks]
    #[arg(long, value_enum, value_name = "USE")]
    language: Option<Language>,

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

    /// Figures row [default: found by its signs, ITA2 until then]
    #[arg(long, help_heading = "Signal", value_enum)]
    figures: Option<Figures>,

    /// Whether a space in figures returns to letters: true or false [default: found]
    #[arg(long, help_heading = "Signal", value_name = "BOOL", num_args = 0..=1, default_missing_value = "true", require_equals = true)]
    unshift_on_space: Option<bool>,

    /// Channel of the recording, counted from 1
    #[arg(long, help_heading = "Sound", value_name = "N")]
    channel: Option<u16>,

    /// The input is bare samples; FORMAT is u8, s16le (usual), s24le, s32le or f32le
    #[arg(long, help_heading = "Sound", value_name = "RATE[,FORMAT[,CHANNELS]]")]
    raw: Option<RawFormat>,
}

/// What `markhold copy` may be told of a sound input.
#[derive(Args, Clone, Debug)]
pub struct LiveOptions {
    /// Copy what this sound input hears, until Ctrl-C: a part of its name is enough, or
    /// default. The evening is kept
    #[arg(long, value_name = "NAME", help_heading = "Live", conflicts_with_all = ["files", "raw"])]
    pub input: Option<String>,

    /// Folder of the shelf, where the evening is kept, if not the usual one
    #[arg(long, value_name = "DIR", help_heading = "Live")]
    #[arg(conflicts_with = "no_keep")]
    pub shelf: Option<PathBuf>,

    /// Keep nothing of this evening
    #[arg(long, help_heading = "Live")]
    pub no_keep: bool,
}

impl LiveOptions {
    /// Errors: what belongs to a sound input was told without one.
    pub fn check(&self) -> anyhow::Result<()> {
        if self.input.is_none() && (self.shelf.is_some() || self.no_keep) {
            bail!(
                "--shelf and --no-keep belong to a sound input: name it with --input, or leave \
                 them out"
            );
        }
        Ok(())
    }
}

impl Options {
    /// The machine to print on, if any.
    pub fn setup(&self) -> anyhow::Result<Option<(&str, Setup)>> {
        match &self.to {
            Some(name) => Ok(Some((name, self.outfit.setup(name)?))),
            None if self.outfit.is_given() => bail!(
                "--way, --dry, --page, --set, --record and --settings belong to a machine: \
                 name it with --to, or leave them out"
            ),
            None => Ok(None),
        }
    }

    /// What is set for a sound input.
    pub fn in_use(&self) -> InUse {
        let settings = self.settings(None);
        InUse {
            hold: Hold {
                at_hz: settings.at_hz,
                shift_hz: settings.shift_hz,
                rate_baud: settings.rate_baud,
                sense: settings.sense,
            },
            figures_row: settings.figures_row,
            unshift_on_space: settings.unshift_on_space,
            all: settings.all,
            // A machine that is printed on may want first readings.
            early: settings.early || self.to.is_some(),
            ..InUse::default()
        }
    }

    /// The machine to print on while a sound input is listened to, and what is told of it.
    pub fn live_machine(&self) -> anyhow::Result<(Outfit, Option<String>)> {
        let Outfit {
            dry, page, record, ..
        } = &self.outfit;
        if *dry || page.is_some() || record.is_some() {
            bail!(
                "--dry, --page and --record belong to recordings: leave them out with --input; what \
                 goes to paper is kept on the shelf"
            );
        }
        if self.to.is_none() && self.outfit.is_given() {
            self.setup()?;
        }
        Ok((self.outfit.clone(), self.to.clone()))
    }

    /// What language may do, where that was said.
    pub fn asked_language(&self) -> Option<Language> {
        self.language
    }

    /// Which channel is listened to.
    pub fn channel(&self) -> u16 {
        self.channel.unwrap_or(1)
    }

    pub fn settings(&self, setup: Option<&(&str, Setup)>) -> Settings {
        // A patient machine has no use for first readings.
        let hurries = setup.is_some_and(|(_, setup)| setup.patience_s < USUAL_PATIENCE_S);
        Settings {
            at_hz: self.at,
            shift_hz: self.shift,
            rate_baud: self.rate,
            sense: self.mark.map(|mark| match mark {
                Mark::Lower => Sense::LowerTone,
                Mark::Higher => Sense::HigherTone,
            }),
            figures_row: self.figures.map(Into::into),
            unshift_on_space: self.unshift_on_space,
            all: self.all,
            early: self.early || hurries,
            unlikely: false,
            language: self.language().into(),
            learned: None,
        }
    }

    fn language(&self) -> Language {
        let usual = match self.to {
            Some(_) => Language::Off,
            None => Language::On,
        };
        self.language.unwrap_or(usual)
    }

    pub fn read_options(&self) -> ReadOptions {
        ReadOptions {
            channel: self.channel,
            raw: self.raw,
        }
    }

    /// Where events go.
    pub fn output(&self, setup: Option<&(&str, Setup)>) -> anyhow::Result<Box<dyn Output>> {
        match setup {
            Some((name, setup)) => Ok(Box::new(ToMachine::new(name, setup, &self.outfit)?)),
            None => Ok(self.text()),
        }
    }

    /// Text or JSON on standard output.
    pub fn text(&self) -> Box<dyn Output> {
        let out = stdout();
        // Who asks for marks only wants to see them.
        let doubt = match self.language() {
            Language::Mark => self.doubt.or(Some(Doubt::Marked)),
            _ => self.doubt,
        };
        let marker = marker(doubt, out.is_terminal());
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
