//! `markhold shelf`: what was kept.

mod add;
mod again;
mod all;
mod asked;
mod check;
mod compare;
mod export;
mod html;
mod join;
pub mod learn;
mod list;
mod marked;
mod object;
mod options;
mod person;
mod search;
mod show;
mod when;

pub use object::{line, line_as_it_is};
pub use options::Options;

use crate::outcome::Outcome;
use crate::wanted::Wanted;
use anyhow::{Context, bail};
use markhold_shelf::{KeptEvening, Reading, Shelf, ShelfError, usual_place};
use options::{Command, Which};
use when::Zone;

/// Does what was asked.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let place = match &options.place {
        Some(place) => place.clone(),
        None => usual_place().context("no home folder; name the shelf's folder with --shelf")?,
    };
    let zone = Zone { utc: options.utc };
    let (reading, room) = options.command.wanted();
    let wanted = Wanted::of(options.settings.as_ref(), &reading, &room)?;
    // The only command that makes a shelf where there is none.
    if let Command::Add(add) = &options.command {
        return add::run(&place, add, &zone, &wanted);
    }
    match Shelf::open(&place) {
        Ok(shelf) => read(shelf, &options.command, &zone, &wanted),
        Err(error @ ShelfError::Nothing { .. }) => {
            crate::outcome::say(&format!("markhold: {error}"));
            Ok(Outcome::NothingFound)
        }
        Err(error) => Err(error.into()),
    }
}

fn read(
    mut shelf: Shelf,
    command: &Command,
    zone: &Zone,
    wanted: &Wanted,
) -> anyhow::Result<Outcome> {
    match command {
        Command::Add(add) => add::run(shelf.place(), add, zone, wanted),
        Command::List(list) => list::run(&shelf, list, zone),
        Command::Show(show) => show::run(&shelf, show, zone),
        Command::Compare(options) => compare::run(&shelf, options, zone),
        Command::Join(options) => join::run(&shelf, options, zone),
        Command::Search(search) => search::run(&shelf, search, zone),
        Command::Export(export) => export::run(&shelf, export, zone),
        Command::Again(again) if again.is_all() => all::run(&mut shelf, again, wanted),
        Command::Again(again) => again::run(&mut shelf, again, wanted),
        Command::Learn(learn) => learn::learn(&mut shelf, learn, zone, wanted),
        Command::Forget(forget) => learn::forget(&mut shelf, forget, zone, wanted),
        Command::Note(note) => person::note(&mut shelf, note, zone),
        Command::Choose(choose) => person::choose(&mut shelf, choose, zone),
        Command::Delete(delete) => person::delete(&mut shelf, delete, zone),
        Command::Check(check) => check::run(&shelf, check),
    }
}

/// The evening that was asked for: by number, by the date of its beginning, or the last.
fn evening(shelf: &Shelf, asked: &str, zone: &Zone) -> anyhow::Result<KeptEvening> {
    let none = || ShelfError::NoEvening {
        asked: asked.to_string(),
    };
    if let Ok(id) = asked.parse() {
        return Ok(shelf.evening(id)?);
    }
    if asked.eq_ignore_ascii_case("last") {
        return Ok(shelf.evenings(None, None, 1)?.pop().ok_or_else(none)?);
    }
    let Some(date) = when::date(asked) else {
        bail!("\"{asked}\" is no evening: expected a number of the list, a date or last");
    };
    // A day more on either side, for every time zone; the evening's own zone decides.
    let day = jiff::SignedDuration::from_hours(36);
    let noon = date
        .at(12, 0, 0, 0)
        .to_zoned_datetime(jiff::tz::TimeZone::UTC)?
        .timestamp();
    let near = shelf.evenings(Some(noon - day), Some(noon + day), usize::MAX)?;
    let mut that: Vec<KeptEvening> = near
        .into_iter()
        .filter(|e| zone.of(&e.begin).date() == date)
        .collect();
    match that.len() {
        0 | 1 => Ok(that.pop().ok_or_else(none)?),
        _ => {
            let numbers: Vec<String> = that.iter().map(|e| e.id.to_string()).collect();
            bail!(
                "{date} has {} evenings; name one by its number: {}",
                that.len(),
                numbers.join(", ")
            )
        }
    }
}

/// The reading that was asked for: the best one, unless another is named.
fn reading<'a>(evening: &'a KeptEvening, which: &Which) -> anyhow::Result<&'a Reading> {
    let asked = which.reading.unwrap_or(evening.best + 1);
    let found = asked.checked_sub(1).and_then(|at| evening.readings.get(at));
    Ok(found.ok_or(ShelfError::NoReading {
        evening: evening.id,
        asked,
        count: evening.readings.len(),
    })?)
}
