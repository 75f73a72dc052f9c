//! Units behind numbers: where an option counts in Hz, `1700Hz` says the same as `1700`.
//!
//! An option tells its unit by what its value is called in the help.

use clap::Command;
use std::ffi::OsString;

/// What a value is called, and how its unit may be written behind the number.
const UNITS: [(&str, &[&str]); 8] = [
    ("HZ", &["Hz"]),
    ("S", &["s"]),
    ("MS", &["ms"]),
    ("BAUD", &["baud", "Bd"]),
    ("VOLT", &["V"]),
    ("OHM", &["ohm", "\u{2126}", "\u{3a9}"]),
    ("HENRY", &["H"]),
    ("DB", &["dB"]),
];

/// The words of a command line, their numbers less the units that they are counted in.
pub fn without_units(
    command: &Command,
    words: impl IntoIterator<Item = OsString>,
) -> Vec<OsString> {
    let (mut command, mut unit, mut plain) = (command, None, false);
    let mut out = Vec::new();
    for word in words {
        let Some(text) = word.to_str().filter(|_| !plain) else {
            out.push(word);
            continue;
        };
        plain = text == "--";
        if let Some(units) = std::mem::take(&mut unit) {
            out.push(number(text, units).into());
        } else if let Some((option, value)) = text.split_once('=') {
            let value = units(command, option).map_or(value, |units| number(value, units));
            out.push(format!("{option}={value}").into());
        } else {
            unit = units(command, text);
            command = command.find_subcommand(text).unwrap_or(command);
            out.push(word);
        }
    }
    out
}

/// How the unit of an option may be written, if it has one.
fn units(command: &Command, option: &str) -> Option<&'static [&'static str]> {
    let long = option.strip_prefix("--")?;
    let mut all = command.get_arguments();
    let named = all.find(|arg| arg.get_long() == Some(long))?;
    let [name] = named.get_value_names()? else {
        return None;
    };
    let unit = UNITS.iter().find(|(known, _)| name.as_str() == *known);
    unit.map(|(_, units)| *units)
}

/// The number before a unit; the text as it is if there is none.
fn number<'a>(text: &'a str, units: &[&str]) -> &'a str {
    let before = units.iter().find_map(|unit| text.strip_suffix(unit));
    let before = before.map(str::trim_end);
    before
        .filter(|number| number.parse::<f64>().is_ok())
        .unwrap_or(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::{CommandFactory, Parser};

    fn plain(line: &str) -> String {
        let words = line.split(' ').map(OsString::from);
        let plain = without_units(&Cli::command(), words);
        let plain = plain.iter().map(|word| word.to_string_lossy());
        plain.collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn units_may_stand_behind_numbers() {
        for (line, expected) in [
            (
                "markhold copy --at 1700Hz a.wav",
                "markhold copy --at 1700 a.wav",
            ),
            (
                "markhold copy --rate=50baud a.wav",
                "markhold copy --rate=50 a.wav",
            ),
            (
                "markhold bench loop --supply 120V --current 60mA --coil-ohm 200ohm",
                "markhold bench loop --supply 120 --current 60mA --coil-ohm 200",
            ),
            (
                "markhold air CQ --snr -3dB --lead=2s",
                "markhold air CQ --snr -3 --lead=2",
            ),
            // Another unit, none, or a word that only ends like one.
            ("markhold copy --at 1.7kHz", "markhold copy --at 1.7kHz"),
            ("markhold copy --at Hz", "markhold copy --at Hz"),
            ("markhold air 5Hz --out 2s", "markhold air 5Hz --out 2s"),
            (
                "markhold copy -- --at 1700Hz",
                "markhold copy -- --at 1700Hz",
            ),
        ] {
            assert_eq!(plain(line), expected);
        }
    }

    #[test]
    fn what_is_left_is_understood() {
        let line = "markhold copy --at 1700Hz --shift 170Hz --rate 45.45Bd a.wav";
        let words = line.split(' ').map(OsString::from);
        assert!(Cli::try_parse_from(without_units(&Cli::command(), words)).is_ok());
    }
}
