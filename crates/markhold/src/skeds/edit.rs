//! `markhold skeds list`, `add`, `change` and `remove`.

use super::object::Object;
use super::options::{Add, Change, List, Remove};
use super::{given, words};
use crate::machine::{CAUTION, SettingsMachines};
use crate::outcome::{Outcome, say};
use crate::shelf::line_as_it_is;
use markhold_shelf::Shelf;
use markhold_skeds::Sked;
use markhold_station::machines::Machines;
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

pub fn add(shelf: &mut Shelf, add: &Add, machines: &SettingsMachines) -> anyhow::Result<Outcome> {
    let sked = given::new(&add.name, &add.said)?;
    paper(&sked, add.said.print_on.is_some(), machines)?;
    let id = shelf.add_sked(&sked)?;
    print(id, &sked, add.json)?;
    if sked.channels.is_empty() {
        say(&format!(
            "no frequency yet: markhold skeds change {id} --on 3597"
        ));
    }
    Ok(Outcome::Done)
}

pub fn change(
    shelf: &mut Shelf,
    change: &Change,
    machines: &SettingsMachines,
) -> anyhow::Result<Outcome> {
    let mut sked = given::changed(shelf.sked(change.id)?, &change.said)?;
    paper(&sked, change.said.print_on.is_some(), machines)?;
    if let Some(name) = &change.name {
        sked.name = name.clone();
        sked.check()?;
    }
    shelf.change_sked(change.id, &sked)?;
    print(change.id, &sked, change.json)?;
    Ok(Outcome::Done)
}

/// The machine that a sked names is there, or it is said now and not on the evening.
pub fn machine_is_there(sked: &Sked, machines: &SettingsMachines) -> Result<(), String> {
    let name = sked.print_on.trim();
    if name.is_empty() {
        return Ok(());
    }
    match machines.setup(name, None)?.way {
        Some(_) => Ok(()),
        None => Err(format!(
            "there is no way to {name} yet; give one under [machine.{name}] in the settings file"
        )),
    }
}

fn paper(sked: &Sked, said: bool, machines: &SettingsMachines) -> anyhow::Result<()> {
    if said {
        machine_is_there(sked, machines).map_err(anyhow::Error::msg)?;
        if !sked.print_on.trim().is_empty() {
            say(CAUTION);
        }
    }
    Ok(())
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
