//! What `markhold machine` may be told.

use super::messages::Test;
use crate::files::read_text;
use crate::length::length;
use anyhow::{Context, bail};
use clap::Args;
use markhold_wire::play::{Setup, setup, setups};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;
use toml::{Table, Value};

/// Send text to a page printer, or show what it would print.
///
/// Without a name, lists the machines of the settings file and the ready-made ones; with a
/// name alone, describes it as it could stand in the settings file. Exit code: 0 done, 2
/// something went wrong.
///
/// Caution: the loop of an old machine carries up to 180 V and can kill, its motor runs on
/// mains, and its moving parts catch fingers, hair and ties. Wire with the power off,
/// discharged and fused, only if you are competent; keep clear while it may start by itself.
/// Local electrical codes, your licence and licensed practice come first.
#[derive(Args, Debug)]
#[command(after_help = "\
A way to the machine is one of: serial:PORT (the port sends five-bit words), break:PORT,
rts:PORT, dtr:PORT (a wire keyed by the clock), tones, tones:OUTPUT, tones-file:PATH,
codes:PATH, codes:ADDRESS:PORT, listen:ADDRESS:PORT.

A machine of the settings file is a table like [machine.shack] with way = \"rts:/dev/ttyUSB0\",
kind = \"us-72-45\" and any keys that differ; markhold machine NAME shows all keys.

The return times of the ready-made machines are assumptions. Measure yours: begin with
--test return --set return_s=0.1 and raise it until every I stands at the margin.

Examples:
  markhold machine us-72-45 notice.txt --dry --page notice.pdf
  markhold machine us-72-45 --set columns=74 --way rts:/dev/ttyUSB0 --test ry
  markhold machine shack --trial
  markhold machine shack --text \"GOOD EVENING ALL\"")]
pub struct Options {
    /// A machine of the settings file, or a ready-made one
    #[arg(value_name = "NAME")]
    pub name: Option<String>,

    /// Text files to send; - for standard input
    #[arg(value_name = "FILE")]
    pub files: Vec<PathBuf>,

    /// Send these words
    #[arg(long, value_name = "TEXT")]
    pub text: Vec<String>,

    /// Send a test message
    #[arg(long, value_enum, value_name = "TEST")]
    pub test: Vec<Test>,

    /// Try the way to the machine, sending nothing, and say how well it will do (5 s where a
    /// wire is keyed by the clock, or so long, as in --trial=15min; keep the computer as busy as it
    /// will be)
    #[arg(
        long,
        value_name = "TIME",
        value_parser = length,
        num_args = 0..=1,
        require_equals = true,
        requires = "name",
        conflicts_with_all = ["files", "text", "test", "dry", "page"]
    )]
    pub trial: Option<Option<Duration>>,

    #[command(flatten)]
    pub outfit: Outfit,
}

impl Options {
    /// Whether there is nothing to send.
    pub fn says_nothing(&self) -> bool {
        self.files.is_empty() && self.text.is_empty() && self.test.is_empty()
    }
}

/// The machine, the way to it, and what is kept; shared with `markhold copy --to`.
#[derive(Args, Clone, Debug, Default)]
pub struct Outfit {
    /// The way to the machine
    #[arg(long, value_name = "WAY", help_heading = "Machine")]
    pub way: Option<String>,

    /// Send nothing; print the page
    #[arg(long, help_heading = "Machine")]
    pub dry: bool,

    /// Write the page: .txt, .html, .svg, .pdf or .png
    #[arg(long, value_name = "FILE", help_heading = "Machine")]
    pub page: Option<PathBuf>,

    /// Change a key of the machine, as in columns=74
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Machine")]
    pub set: Vec<String>,

    /// Keep what went to paper in this folder, a file a day
    #[arg(long, value_name = "FOLDER", help_heading = "Machine")]
    pub record: Option<PathBuf>,

    /// The settings file
    #[arg(long, value_name = "FILE", help_heading = "Machine")]
    pub settings: Option<PathBuf>,
}

impl Outfit {
    /// The machine of this name with the changes of the command line.
    pub fn setup(&self, name: &str) -> anyhow::Result<Setup> {
        let settings = self.read_settings()?;
        let found = setup(&settings, name, self.changes()?)
            .with_context(|| self.to_blame(&settings, name))?;
        found.map_or_else(|| self.unknown(name), Ok)
    }

    /// Whether anything was told.
    pub fn is_given(&self) -> bool {
        let files = [&self.page, &self.record, &self.settings];
        self.way.is_some() || self.dry || !self.set.is_empty() || files.iter().any(|f| f.is_some())
    }

    /// The machines of the settings file.
    pub fn setups(&self) -> anyhow::Result<BTreeMap<String, Setup>> {
        setups(&self.read_settings()?).with_context(|| self.place())
    }

    fn unknown(&self, name: &str) -> anyhow::Result<Setup> {
        let own: Vec<String> = self.setups()?.into_keys().collect();
        let ready_made: Vec<&str> = markhold_page::kinds()
            .iter()
            .map(|kind| kind.name)
            .collect();
        let own = match own.is_empty() {
            true if self.is_there() => format!("none in {}", self.place()),
            true => format!("none of your own, since there is no {}", self.place()),
            false => own.join(", "),
        };
        bail!(
            "no machine is called {name:?}; there are: {own}; ready-made: {}",
            ready_made.join(", ")
        )
    }

    /// Keys changed on the command line.
    fn changes(&self) -> anyhow::Result<Table> {
        let mut changes = Table::new();
        for change in &self.set {
            let Some((key, value)) = change.split_once('=') else {
                bail!("--set {change}: expected KEY=VALUE, for example columns=74");
            };
            // A value that is no TOML value is a text without its quotes.
            let line = format!("value = {value}");
            let parsed = line
                .parse::<Table>()
                .ok()
                .and_then(|mut table| table.remove("value"));
            changes.insert(
                key.trim().into(),
                parsed.unwrap_or(Value::String(value.into())),
            );
        }
        if let Some(way) = &self.way {
            changes.insert("way".into(), Value::String(way.clone()));
        }
        Ok(changes)
    }

    /// The settings file's text, which is TOML; empty if the usual one is not there.
    pub fn read_settings(&self) -> anyhow::Result<String> {
        let text = self.settings_text()?;
        if let Err(error) = text.parse::<Table>() {
            let before = error.span().map_or(0, |span| span.start);
            let line = 1 + text
                .bytes()
                .take(before)
                .filter(|byte| *byte == b'\n')
                .count();
            let said = error.message().trim().replace('\n', "; ");
            bail!(
                "{}, line {line}: {said}; markhold check says more",
                self.place()
            );
        }
        Ok(text)
    }

    /// The same as it is, be it TOML or not.
    pub fn settings_text(&self) -> anyhow::Result<String> {
        if let Some(path) = &self.settings {
            return read_text(path);
        }
        match usual_settings().filter(|path| path.exists()) {
            Some(path) => read_text(&path),
            None => Ok(String::new()),
        }
    }

    fn is_there(&self) -> bool {
        let path = self.settings.clone().or_else(usual_settings);
        path.is_some_and(|path| path.exists())
    }

    /// Where a machine that will not do got its fault: the settings file only if it is there and
    /// the machine does not do without what the command line says either.
    fn to_blame(&self, settings: &str, name: &str) -> String {
        match self.is_there() && setup(settings, name, Table::new()).is_err() {
            true => self.place(),
            false => "the command line".into(),
        }
    }

    /// What errors call the settings file.
    pub fn place(&self) -> String {
        let path = self.settings.clone().or_else(usual_settings);
        path.map_or("the settings file".into(), |path| {
            path.display().to_string()
        })
    }
}

/// Where the settings file usually is: the platform's folder for settings.
pub fn usual_settings() -> Option<PathBuf> {
    let folder = |variable: &str| {
        let value = std::env::var_os(variable).filter(|value| !value.is_empty())?;
        Some(PathBuf::from(value))
    };
    let base = if cfg!(windows) {
        folder("APPDATA")
    } else if cfg!(target_os = "macos") {
        folder("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        // XDG Base Directory Specification.
        folder("XDG_CONFIG_HOME").or_else(|| folder("HOME").map(|home| home.join(".config")))
    };
    base.map(|base| base.join("markhold").join("settings.toml"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_toml_values_or_bare_texts() {
        let outfit = Outfit {
            set: [
                "columns=74",
                "line_end=CR LF",
                "lacks=\"#\"",
                "motor = true",
            ]
            .map(String::from)
            .into(),
            way: Some("tones".into()),
            ..Outfit::default()
        };
        let changes = outfit.changes().unwrap();
        assert_eq!(changes["columns"], Value::Integer(74));
        assert_eq!(changes["line_end"], Value::String("CR LF".into()));
        assert_eq!(changes["lacks"], Value::String("#".into()));
        assert_eq!(changes["motor"], Value::Boolean(true));
        assert_eq!(changes["way"], Value::String("tones".into()));
        let bad = Outfit {
            set: vec!["columns".into()],
            ..Outfit::default()
        };
        assert!(bad.changes().unwrap_err().to_string().contains("KEY=VALUE"));
    }
}
