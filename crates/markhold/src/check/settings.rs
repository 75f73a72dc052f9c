//! The settings file.

use super::faults::{Fault, Known, faults};
use super::finding::{Finding, Part, Verdict};
use crate::outcome::in_words;
use crate::skeds;
use markhold_shelf::Preferences;
use markhold_wire::keyboard::KeyboardPlan;
use markhold_wire::play::setups;
use markhold_wire::transmit::TransmitterPlan;
use std::fmt::Display;
use toml::Table;

/// The tables there are, in the order in which their faults are told.
const KNOWN: [Known; 6] = [
    Known {
        table: "keyboard",
        reader: |text| whether(KeyboardPlan::of_settings(text, Table::new())),
    },
    Known {
        table: "machine",
        reader: |text| whether(setups(text)),
    },
    Known {
        table: "receiver",
        reader: |text| in_full(skeds::Receiver::of_text(text)),
    },
    Known {
        table: "shelf",
        reader: |text| whether(Preferences::of_settings(text)),
    },
    Known {
        table: "skeds",
        reader: |text| in_full(skeds::waits::of_text(text)),
    },
    Known {
        table: "transmitter",
        reader: |text| whether(TransmitterPlan::of_settings(text, Table::new())),
    },
];

/// The reader of a table that there is.
#[cfg(test)]
pub fn reader_of(table: &str) -> super::faults::Reader {
    let known = KNOWN.iter().find(|known| known.table == table);
    known.expect("a table that there is").reader
}

/// The names of the tables that there are.
#[cfg(test)]
pub fn read_tables() -> impl Iterator<Item = &'static str> {
    KNOWN.iter().map(|known| known.table)
}

fn whether<T>(read: Result<T, impl Display>) -> Result<(), String> {
    read.map(drop).map_err(|error| error.to_string())
}

fn in_full<T>(read: anyhow::Result<T>) -> Result<(), String> {
    read.map(drop).map_err(|error| format!("{error:#}"))
}

/// A file that cannot be read, in the words of the error.
pub fn unread(place: &str, error: &anyhow::Error) -> Finding {
    let said = in_words(error);
    let said = said.strip_prefix(&format!("{place}: ")).unwrap_or(&said);
    Finding::wrong(Part::Settings, said, "correct it, or take it away").of(place)
}

/// What is wrong with the file's text, one finding for each fault.
pub fn look(place: &str, text: &str) -> Vec<Finding> {
    let told = |fault: Fault| told(place, fault);
    let faults: Vec<Finding> = faults(text, &KNOWN).into_iter().map(told).collect();
    match faults.is_empty() {
        false => faults,
        true => vec![well(text).of(place)],
    }
}

fn well(text: &str) -> Finding {
    let tables = text.parse::<Table>().unwrap_or_default();
    let names: Vec<&str> = tables.keys().map(String::as_str).collect();
    Finding::good(
        Part::Settings,
        match names.is_empty() {
            true => "nothing is set: everything is as usual".into(),
            false => format!("all keys do: {}", names.join(", ")),
        },
    )
}

fn told(place: &str, fault: Fault) -> Finding {
    let which = match fault.line {
        Some(line) => format!("{place}, line {line}"),
        None => place.into(),
    };
    let cure = match fault.meant {
        Some(word) => format!("did you mean {word}?"),
        None => "correct it, or leave it out; docs/reference.md has all keys".into(),
    };
    let finding = Finding::good(Part::Settings, fault.said).of(which);
    finding.but(Verdict::Wrong, cure).with("line", fault.line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_table_is_read() {
        let text = "\
[machine.shack]
kind = \"us-72-45\"
colums = 74
[receiver]
shows = \"mark\"
step_hz = -1
[shelf]
sound_limit = \"40\"
[skeds]
late_mins = 3
[transmitter]
call = \"me\"
";
        let findings = look("settings.toml", text);
        let lines: Vec<_> = findings
            .iter()
            .map(|f| f.figures["line"].as_u64())
            .collect();
        assert_eq!(lines, [3, 6, 8, 10, 12].map(Some), "{findings:?}");
        assert_eq!(findings[0].cure.as_deref(), Some("did you mean columns?"));
        assert_eq!(findings[3].cure.as_deref(), Some("did you mean late_min?"));
    }

    #[test]
    fn a_file_without_faults_is_well() {
        let good = look("settings.toml", "[shelf]\nlearn = true\n");
        assert_eq!(
            good[0].to_string(),
            "good    settings   settings.toml: all keys do: shelf"
        );
        assert!(look("settings.toml", "")[0].found.contains("as usual"));
    }
}
