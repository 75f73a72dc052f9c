//! `markhold skeds past`: what became of skeds, in a terminal.

use super::object::Object;
use super::options::Past;
use super::words;
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{KeptOf, Shelf, plain};
use markhold_skeds::watch::{Run, RunState};
use std::io::{Write, stdout};

pub fn run(shelf: &Shelf, past: &Past) -> anyhow::Result<Outcome> {
    let back = SignedDuration::from_hours(24 * i64::from(past.days));
    let from = Timestamp::now().saturating_sub(back);
    let runs = shelf.runs(from.unwrap_or(Timestamp::MIN))?;
    let mut out = stdout().lock();
    for run in &runs {
        let kept = shelf.kept_of(run)?;
        let paper = shelf.print_of(run.sked, run.begins)?;
        let paper = paper.map(|print| print.words());
        match past.json {
            true => line(&mut out, &object(run, &kept, paper))?,
            false => writeln!(out, "{}", row(run, &kept, paper.as_deref()))?,
        }
    }
    if runs.is_empty() {
        say("no sked has come yet in that time");
        return Ok(Outcome::NothingFound);
    }
    Ok(Outcome::Done)
}

fn row(run: &Run, kept: &KeptOf, paper: Option<&str>) -> String {
    let when = words::both_times(run.begins, &TimeZone::system());
    let mut row = format!("{when}  {}: {}", plain(&run.title), run.state.word());
    let evenings: Vec<String> = run.heard_in().map(|evening| evening.to_string()).collect();
    if !evenings.is_empty() {
        row += &format!(" in evening {}", evenings.join(" and "));
    }
    if run.state == RunState::Kept {
        row += &format!(
            ", {:.0} % of {} characters sure",
            kept.sure() * 100.0,
            kept.characters
        );
    }
    if let Some(paper) = paper {
        row += &format!(", {}", plain(paper));
    }
    match run.cause.is_empty() {
        true => row,
        false => format!("{row}; {}", plain(&run.cause)),
    }
}

fn object<'a>(run: &'a Run, kept: &KeptOf, paper: Option<String>) -> Object<'a> {
    Object::Run {
        sked: run.sked,
        title: &run.title,
        begins: run.begins.to_string(),
        ends: run.ends.to_string(),
        state: run.state.word(),
        cause: &run.cause,
        evenings: run.heard_in().collect(),
        characters: kept.characters,
        doubtful: kept.doubtful,
        snr_3khz_db: kept.snr_3khz_db,
        drift_hz: kept.drift_hz,
        paper,
    }
}
