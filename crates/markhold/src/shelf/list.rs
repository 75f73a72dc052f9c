//! `markhold shelf list`.

use super::object::{Object, line};
use super::options::{List, Span};
use super::when::{Zone, length};
use crate::outcome::{Outcome, say};
use jiff::Timestamp;
use markhold_shelf::{Gap, GapCause, KeptEvening, Shelf, plain};
use std::io::{Write, stdout};

/// Evenings listed unless all are asked for.
const LATEST: usize = 20;

pub fn run(shelf: &Shelf, list: &List, zone: &Zone) -> anyhow::Result<Outcome> {
    let (from, until) = span(&list.span, zone)?;
    let bounded = from.is_some() || until.is_some();
    let most = if list.all || bounded {
        usize::MAX
    } else {
        LATEST
    };
    let evenings = shelf.evenings(from, until, most)?;
    let mut out = stdout().lock();
    for evening in &evenings {
        match list.json {
            true => line(&mut out, &Object::from(evening))?,
            false => writeln!(out, "{}", row(evening, zone))?,
        }
    }
    if evenings.is_empty() {
        say("no evening is on the shelf for that time");
        return Ok(Outcome::NothingFound);
    }
    if evenings.len() == most {
        say(&format!("the latest {most}; --all lists all"));
    }
    Ok(Outcome::Done)
}

/// The typed bounds as times.
pub fn span(span: &Span, zone: &Zone) -> anyhow::Result<(Option<Timestamp>, Option<Timestamp>)> {
    let from = span
        .from
        .as_deref()
        .map(|typed| zone.from(typed))
        .transpose()?;
    let until = span
        .until
        .as_deref()
        .map(|typed| zone.until(typed))
        .transpose()?;
    Ok((from, until))
}

fn row(evening: &KeptEvening, zone: &Zone) -> String {
    let mut row = format!("{:>5}  {}  ", evening.id, zone.full(&evening.begin));
    if !evening.names.is_empty() {
        row += &format!("{}, ", plain(&evening.names.join(" and ")));
    }
    row += &match evening.end {
        None => "being kept".to_string(),
        Some(end) => length(end.duration_since(evening.begin.timestamp()).as_secs_f64()),
    };
    if let Some(reading) = evening.best_reading() {
        let (signals, characters) = (reading.signals, reading.characters);
        let plural = if signals == 1 { "" } else { "s" };
        row += &format!(", {signals} signal{plural}, {characters} characters");
    }
    row += &match (evening.sound_s, evening.removed_s) {
        (0.0, _) => ", no sound".to_string(),
        (_, 0.0) => format!(", {:.0} MB of sound", evening.sound_bytes as f64 / 1e6),
        (there, _) => format!(", {} of sound left", length(there)),
    };
    row += &missing(&evening.gaps);
    format!("{row}, {}", plain(&evening.input))
}

/// What is missing, in a few words; nothing where it is not worth one.
fn missing(gaps: &[Gap]) -> String {
    let missing_s: f64 = gaps.iter().filter_map(|gap| gap.length_s).sum();
    let known = match missing_s >= 0.5 {
        true => format!(", {} missing", length(missing_s)),
        false => String::new(),
    };
    let unknown = gaps.iter().filter(|gap| gap.length_s.is_none());
    match unknown.map(|gap| gap.cause).next_back() {
        None => known,
        Some(GapCause::Stopped) => format!("{known}, broken off"),
        Some(_) => format!("{known}, more of unknown length missing"),
    }
}
