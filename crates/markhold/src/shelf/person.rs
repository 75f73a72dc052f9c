//! `markhold shelf note`, `choose` and `delete`: what a person does with an evening.

use super::asked::{Choose, Delete, Note, Standing};
use super::show::{about_reading, heading};
use super::when::Zone;
use crate::outcome::{Outcome, say};
use anyhow::bail;
use markhold_shelf::{Said, Shelf};
use std::io::{Write, stdout};

/// Keeps what is said, or prints what was said.
pub fn note(shelf: &mut Shelf, note: &Note, zone: &Zone) -> anyhow::Result<Outcome> {
    let evening = super::evening(shelf, &note.evening, zone)?;
    let before = shelf.said(evening.id)?;
    if note.text.is_none() && note.station.is_none() {
        say(&heading(&evening, zone));
        return print(&before);
    }
    let said = Said {
        note: note.text.clone().unwrap_or(before.note),
        station: note.station.clone().unwrap_or(before.station),
    };
    shelf.say(evening.id, &said)?;
    Ok(Outcome::Done)
}

fn print(said: &Said) -> anyhow::Result<Outcome> {
    let all = [&said.station, &said.note];
    let all: Vec<&String> = all.into_iter().filter(|text| !text.is_empty()).collect();
    for text in &all {
        writeln!(stdout(), "{}", markhold_shelf::plain(text))?;
    }
    Ok(match all.is_empty() {
        true => Outcome::NothingFound,
        false => Outcome::Done,
    })
}

/// Lets a reading stand, and says which one does now.
pub fn choose(shelf: &mut Shelf, choose: &Choose, zone: &Zone) -> anyhow::Result<Outcome> {
    let id = super::evening(shelf, &choose.evening, zone)?.id;
    let chosen = match choose.reading {
        Standing::Best => None,
        Standing::Reading(count) => Some(count),
    };
    shelf.choose(id, chosen)?;
    let evening = shelf.evening(id)?;
    let Some(stands) = evening.best_reading() else {
        say(&format!("evening {id} has no reading"));
        return Ok(Outcome::NothingFound);
    };
    say(&heading(&evening, zone));
    say(&format!("stands now: {}", about_reading(&evening, stands)));
    Ok(Outcome::Done)
}

/// Removes an evening, if that is said twice.
pub fn delete(shelf: &mut Shelf, delete: &Delete, zone: &Zone) -> anyhow::Result<Outcome> {
    let evening = super::evening(shelf, &delete.evening, zone)?;
    let heading = heading(&evening, zone);
    if !delete.yes {
        bail!("{heading}: its sound, copy and note would be gone for good; add --yes to delete it");
    }
    shelf.remove(evening.id)?;
    say(&format!("deleted: {heading}"));
    Ok(Outcome::Done)
}
