//! `markhold skeds list`, `add`, `change` and `remove`.

use super::object::Object;
use super::options::{Add, Change, List, Remove};
use super::{given, words};
use crate::outcome::{Outcome, say};
use crate::shelf::line_as_it_is;
use markhold_shelf::Shelf;
use markhold_skeds::Sked;
use std::io::{Write, stdout};

pub fn list(shelf: &Shelf, list: &List) -> anyhow::Result<Outcome> {
    let skeds = shelf.skeds()?;
    for (id, sked) in &skeds {
        print(*id, sked, list.json)?;
    }
    if skeds.is_empty() {
        say("no skeds yet; markhold skeds add makes one");
        return Ok(Outcome::NothingFound);
    }
    Ok(Outcome::Done)
}

pub fn add(shelf: &mut Shelf, add: &Add) -> anyhow::Result<Outcome> {
    let sked = given::new(&add.name, &add.said)?;
    let id = shelf.add_sked(&sked)?;
    print(id, &sked, add.json)?;
    if sked.channels.is_empty() {
        say(&format!(
            "no frequency yet: markhold skeds change {id} --on 3597"
        ));
    }
    Ok(Outcome::Done)
}

pub fn change(shelf: &mut Shelf, change: &Change) -> anyhow::Result<Outcome> {
    let mut sked = given::changed(shelf.sked(change.id)?, &change.said)?;
    if let Some(name) = &change.name {
        sked.name = name.clone();
        sked.check()?;
    }
    shelf.change_sked(change.id, &sked)?;
    print(change.id, &sked, change.json)?;
    Ok(Outcome::Done)
}

pub fn remove(shelf: &mut Shelf, remove: &Remove) -> anyhow::Result<Outcome> {
    let sked = shelf.remove_sked(remove.id)?;
    say(&format!("removed: {}", words::title(&sked)));
    Ok(Outcome::Done)
}

pub fn print(id: i64, sked: &Sked, json: bool) -> anyhow::Result<()> {
    let mut out = stdout().lock();
    match json {
        true => line_as_it_is(&mut out, &Object::Sked { id, sked })?,
        false => writeln!(out, "{}", words::row(id, sked))?,
    }
    Ok(())
}
