//! Values of the settings file, checked one by one.

use super::{LineEnding, MachineError};
use std::ops::RangeInclusive;

pub fn wrong(key: &'static str, found: String, expected: String, hint: &str) -> MachineError {
    MachineError {
        key,
        found,
        expected,
        hint: hint.to_string(),
    }
}

pub fn whole(
    key: &'static str,
    found: Option<i64>,
    usual: u16,
    range: RangeInclusive<u16>,
) -> Result<u16, MachineError> {
    let Some(found) = found else { return Ok(usual) };
    let fits = u16::try_from(found)
        .ok()
        .filter(|value| range.contains(value));
    fits.ok_or_else(|| {
        let expected = format!("a whole number from {} to {}", range.start(), range.end());
        wrong(
            key,
            found.to_string(),
            expected,
            &format!("{usual} is usual"),
        )
    })
}

pub fn number(
    key: &'static str,
    found: Option<f64>,
    usual: f64,
    range: RangeInclusive<f64>,
) -> Result<f64, MachineError> {
    let found = found.unwrap_or(usual);
    if range.contains(&found) {
        return Ok(found);
    }
    let expected = format!("a number from {} to {}", range.start(), range.end());
    let hint = format!("{} is usual", (usual * 100.0).round() / 100.0);
    Err(wrong(key, found.to_string(), expected, &hint))
}

pub fn one_of<T: Copy>(
    key: &'static str,
    found: Option<String>,
    usual: T,
    known: &[(&str, T)],
) -> Result<T, MachineError> {
    let Some(found) = found else { return Ok(usual) };
    let same = |entry: &&(&str, T)| entry.0.eq_ignore_ascii_case(&found);
    known.iter().find(same).map(|entry| entry.1).ok_or_else(|| {
        let names: Vec<String> = known.iter().map(|entry| format!("{:?}", entry.0)).collect();
        let expected = format!("one of {}", names.join(", "));
        wrong(
            key,
            format!("{found:?}"),
            expected,
            "leave the key out for the usual one",
        )
    })
}

pub fn line_end(found: Option<String>, usual: LineEnding) -> Result<LineEnding, MachineError> {
    let Some(found) = found else { return Ok(usual) };
    LineEnding::parse(&found).ok_or_else(|| {
        wrong(
            "line_end",
            format!("{found:?}"),
            "at most 16 of CR, LF, LTRS, BLANK with a CR and an LF among them".into(),
            "\"CR CR LF LTRS\" is safe on every machine",
        )
    })
}

/// One character, or `None` for an empty text.
pub fn sign(
    key: &'static str,
    found: Option<String>,
    usual: Option<char>,
) -> Result<Option<char>, MachineError> {
    let Some(found) = found else { return Ok(usual) };
    let mut characters = found.chars();
    match (characters.next(), characters.next()) {
        (c, None) => Ok(c.map(|c| c.to_ascii_uppercase())),
        _ => Err(wrong(
            key,
            format!("{found:?}"),
            "a single character".into(),
            "leave the key out for the usual one",
        )),
    }
}

pub fn replacement(found: Option<String>, usual: char) -> Result<char, MachineError> {
    sign("replacement", found, Some(usual))?.ok_or_else(|| {
        wrong(
            "replacement",
            "\"\"".into(),
            "a single character".into(),
            "a character that is left out cannot be missed: \"?\" is usual",
        )
    })
}
