//! What `markhold send` may be told.

use crate::choices::Figures;
use crate::keyboard::KeyboardArgs;
use crate::length::length;
use crate::machine::Outfit;
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use markhold_code::Tones;
use markhold_wire::transmit::{TonesFrom, TransmitterPlan};
use std::path::PathBuf;
use std::time::Duration;
use toml::{Table, Value};

/// A sideband.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Side {
    /// Mark is the lower tone.
    Lower,
    /// Mark is the higher tone.
    Upper,
}

/// What is sent while there is nothing to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum IdleWith {
    /// Mark.
    None,
    /// Letters shifts.
    Letters,
    /// Blanks.
    Blank,
}

/// Send text by a transmitter, or see and hear what would be sent.
///
/// Dry until a transmitter is set: the text is laid out as it would be printed, and with --out
/// made into sound. Nothing is sent that a person at this computer has not armed. Exit code: 0
/// done, 2 something went wrong, 128 and the signal's number when it was stopped.
///
/// Caution: a keyed transmitter is on the air. Your licence, the band plan and local rules come
/// first; they say what may be sent, where, when and by whom. Its field and its supply can hurt:
/// keep clear of the aerial, and make trials into a dummy load.
#[derive(Args, Debug)]
#[command(after_help = "\
A way to the air is one of: tones, tones:OUTPUT, serial:PORT (the port sends five-bit words),
break:PORT, rts:PORT, dtr:PORT (a wire keyed by the clock). A key is one of: rts, dtr (of that
same port), rts:PORT, dtr:PORT, rigctld:127.0.0.1:4532, command (with key_on and key_off in the
settings file), by-hand. The settings file keeps them in a table [transmitter]; docs/sending.md
has all its keys.

Examples:
  markhold send \"CQ CQ DE Q1ABC Q1ABC K\" --dry --out call.wav
  markhold send notice.txt --call Q1ABC --to tones --key rigctld:127.0.0.1:4532
  markhold send --ready report --with Q2HLR --report 579
  markhold send --ready test --again-after 20s --armed-for 5min
  markhold send --trial --to tones --key rts:/dev/ttyUSB0 --call Q1ABC
  markhold send --keyboard cts:/dev/ttyUSB0 --armed-for 20min
  markhold send - --typed 35 --idle letters --dry --out typed.wav < notice.txt")]
pub struct Options {
    /// The text, a file with it, or - for standard input; may have blanks such as {call}
    #[arg(value_name = "TEXT|FILE|-", required_unless_present_any = ["ready", "keyboard", "trial"], conflicts_with_all = ["keyboard", "trial"])]
    pub text: Option<String>,

    /// A text that is ready to go: test, call, answer, report, again, ending, or a file NAME.txt of
    /// the folder texts beside the settings file
    #[arg(
        long,
        value_name = "NAME",
        conflicts_with_all = ["text", "keyboard"],
        help_heading = "Blanks"
    )]
    pub ready: Option<String>,

    /// What goes into {call}: the other station's call
    #[arg(long, value_name = "CALL", help_heading = "Blanks")]
    pub with: Option<String>,

    /// What goes into {name}
    #[arg(long, help_heading = "Blanks")]
    pub name: Option<String>,

    /// What goes into {report}: the report that is given
    #[arg(long, value_name = "RST", help_heading = "Blanks")]
    pub report: Option<String>,

    /// What goes into {number}
    #[arg(long, help_heading = "Blanks")]
    pub number: Option<u64>,

    /// As a loop of tape: sent again after this time, until Ctrl-C or the end of the time it is
    /// armed for
    #[arg(long, value_name = "TIME", value_parser = length, conflicts_with_all = ["dry", "keyboard"], requires = "armed_for")]
    pub again_after: Option<Duration>,

    /// Send nothing: show the text as it would be printed
    #[arg(long)]
    pub dry: bool,

    /// Open the transmitter as an over does, key nothing, and say what is known of its cable; it is
    /// armed for that, since opening a port may key
    #[arg(long, conflicts_with_all = ["dry", "ready", "keyboard", "armed_for"])]
    pub trial: bool,

    /// WAV file of what would be sent, replaced if it exists; - for standard output
    #[arg(
        long,
        value_name = "FILE",
        requires = "dry",
        conflicts_with = "keyboard"
    )]
    pub out: Option<PathBuf>,

    /// As if so many words a minute were typed, a word being six strokes
    #[arg(long, value_name = "WORDS", conflicts_with = "keyboard")]
    pub typed: Option<f64>,

    /// Arm it for this time, as in 90s or 5min, without being asked; only in a terminal of this
    /// computer
    #[arg(long, value_name = "TIME", value_parser = length, conflicts_with = "dry")]
    pub armed_for: Option<Duration>,

    /// Folder of the shelf on which what was sent is kept, if not the usual one; it is made if it
    /// is missing
    #[arg(long, value_name = "DIR", conflicts_with = "no_keep")]
    pub shelf: Option<PathBuf>,

    /// Keep nothing of it on the shelf
    #[arg(long)]
    pub no_keep: bool,

    /// The way to the air
    #[arg(long, value_name = "WAY", help_heading = "Transmitter")]
    pub to: Option<String>,

    /// How the transmitter is keyed
    #[arg(long, value_name = "KEY", help_heading = "Transmitter")]
    pub key: Option<String>,

    /// The station's call; without one nothing is sent
    #[arg(long, value_name = "CALL", help_heading = "Transmitter")]
    pub call: Option<String>,

    /// Longest over
    #[arg(long, value_name = "S", help_heading = "Transmitter")]
    pub longest: Option<f64>,

    /// Change any key of [transmitter], as in wait_on_s=0.3
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Transmitter")]
    pub set: Vec<String>,

    /// The settings file
    #[arg(long, value_name = "FILE", help_heading = "Transmitter")]
    pub settings: Option<PathBuf>,

    #[command(flatten)]
    pub keyboard: KeyboardArgs,

    /// Modulation rate [usually 45.45]
    #[arg(long, value_name = "BAUD", help_heading = "Line")]
    pub rate: Option<f64>,

    /// Stop element [usually 1.5]
    #[arg(long, value_name = "UNITS", help_heading = "Line")]
    pub stop: Option<f64>,

    /// The lower tone [usually 2125]
    #[arg(long, value_name = "HZ", help_heading = "Tones")]
    pub lower: Option<f64>,

    /// Distance of the tones [usually 170]
    #[arg(long, value_name = "HZ", help_heading = "Tones")]
    pub shift: Option<f64>,

    /// Exactly these tones, as those of a net that is heard: mark, then space, as in 2127.4,2297.1;
    /// on whatever sideband it was heard and is sent
    #[arg(long, value_name = "MARK,SPACE", value_parser = pair, conflicts_with_all = ["lower", "shift", "reversed"], help_heading = "Tones")]
    pub pair: Option<Tones>,

    /// The sideband the transmitter is set to: it decides which tone is mark [usually lower]
    #[arg(long, value_enum, help_heading = "Tones")]
    pub sideband: Option<Side>,

    /// Mark is the lower radio frequency, not the higher one as usual
    #[arg(long, help_heading = "Tones")]
    pub reversed: bool,

    /// Peak level, 0.001 to 1 = full scale [usually 0.5]
    #[arg(long, value_name = "LEVEL", help_heading = "Tones")]
    pub level: Option<f64>,

    /// Figures row [usually us]
    #[arg(long, value_enum, help_heading = "Text")]
    pub figures: Option<Figures>,

    /// Longest line [usually 69]
    #[arg(long, value_name = "COLUMNS", help_heading = "Text")]
    pub columns: Option<u16>,

    /// What is sent while there is nothing to send [usually none]
    #[arg(long, value_enum, help_heading = "Text")]
    pub idle: Option<IdleWith>,
}

impl Options {
    /// The transmitter of the settings file with the changes of the command line.
    pub fn plan(&self) -> anyhow::Result<TransmitterPlan> {
        if let Some(wpm) = self.typed.filter(|wpm| !(1.0..=600.0).contains(wpm)) {
            bail!("--typed {wpm}: expected 1 to 600 words a minute");
        }
        let file = Outfit {
            settings: self.settings.clone(),
            ..Outfit::default()
        };
        let settings = file.read_settings()?;
        let changes = self.changes()?;
        let blame = match changes.is_empty() {
            true => file.place(),
            false => format!("{} and the command line", file.place()),
        };
        let plan = TransmitterPlan::of_settings(&settings, changes).context(blame)?;
        let Some(tones) = self.pair else {
            return Ok(plan);
        };
        if let Err(why) = plan.check_tones(tones) {
            bail!("--pair: {why}");
        }
        Ok(TransmitterPlan {
            tones: TonesFrom::Own,
            ..plan.on(tones)
        })
    }

    /// Keys that the command line changes.
    fn changes(&self) -> anyhow::Result<Table> {
        let mut changes = set(&self.set)?;
        let texts = [("way", &self.to), ("key", &self.key), ("call", &self.call)];
        for (key, text) in texts {
            put(&mut changes, key, text.clone());
        }
        for (key, number) in [
            ("longest_over_s", self.longest),
            ("rate_baud", self.rate.map(exact)),
            ("stop_units", self.stop),
            ("lower_hz", self.lower),
            ("shift_hz", self.shift),
            ("level", self.level),
        ] {
            put(&mut changes, key, number);
        }
        put(&mut changes, "columns", self.columns.map(i64::from));
        put(&mut changes, "reversed", self.reversed.then_some(true));
        let word = |value: Option<&str>| value.map(String::from);
        put(
            &mut changes,
            "sideband",
            word(self.sideband.map(|side| match side {
                Side::Lower => "lower",
                Side::Upper => "upper",
            })),
        );
        put(
            &mut changes,
            "figures",
            word(self.figures.map(|row| match row {
                Figures::Us => "us",
                Figures::Ita2 => "ita2",
            })),
        );
        put(
            &mut changes,
            "idle",
            word(self.idle.map(|idle| match idle {
                IdleWith::None => "none",
                IdleWith::Letters => "letters",
                IdleWith::Blank => "blank",
            })),
        );
        Ok(changes)
    }
}

/// Two tones, mark first.
fn pair(text: &str) -> Result<Tones, String> {
    let hz = |text: &str| {
        text.trim()
            .trim_end_matches("Hz")
            .trim_end()
            .parse::<f64>()
            .ok()
    };
    let found = text.split_once(',');
    let found = found.and_then(|(mark, space)| Some((hz(mark)?, hz(space)?)));
    let known = found.filter(|(mark, space)| (mark + space).is_finite());
    let (mark_hz, space_hz) =
        known.ok_or("expected two tones, mark first, for example 2127.4,2297.1")?;
    Ok(Tones { mark_hz, space_hz })
}

/// 45.45 baud is short for one over 22 ms.
fn exact(baud: f64) -> f64 {
    if baud == 45.45 { 1.0 / 0.022 } else { baud }
}

fn put(changes: &mut Table, key: &str, value: Option<impl Into<Value>>) {
    if let Some(value) = value {
        changes.insert(key.into(), value.into());
    }
}

/// Keys as `--set` has them: a value that is no TOML value is a text without its quotes.
fn set(given: &[String]) -> anyhow::Result<Table> {
    let mut changes = Table::new();
    for change in given {
        let Some((key, value)) = change.split_once('=') else {
            bail!("--set {change}: expected KEY=VALUE, for example wait_on_s=0.3");
        };
        let parsed = format!("value = {value}").parse::<Table>().ok();
        let parsed = parsed.and_then(|mut table| table.remove("value"));
        let value = parsed.unwrap_or_else(|| Value::String(value.into()));
        changes.insert(key.trim().into(), value);
    }
    Ok(changes)
}
