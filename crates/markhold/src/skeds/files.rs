//! `markhold skeds import` and `export`: calendar files.

use super::object::Object;
use super::options::{Export, Import};
use super::{Receiver, edit};
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use anyhow::{Context, bail};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use markhold_shelf::{Shelf, plain};
use markhold_skeds::calendar::{self, Left};
use std::io::{Read, Write, stdin, stdout};
use std::path::Path;

/// Most bytes of a calendar file: some hundred times a club's.
const MOST_BYTES: u64 = 64 << 20;

pub fn import(place: &Path, import: &Import) -> anyhow::Result<Outcome> {
    let file = read(&import.file)?;
    let here = match &import.zone {
        Some(zone) => zone.clone(),
        None => TimeZone::system().iana_name().unwrap_or("UTC").to_string(),
    };
    let zones = jiff::tz::db();
    // A name that does not exist is an error also where no time needs it.
    markhold_skeds::zone(zones, &here)?;
    let found = calendar::read(&file, zones, &here)?;
    if !found.skeds.is_empty() {
        let ids = Shelf::make(place)?.add_skeds(&found.skeds)?;
        for (id, sked) in ids.iter().zip(&found.skeds) {
            edit::print(*id, sked, import.json)?;
        }
    }
    tell(&found.left, import.json)?;
    let (kept, left) = (found.skeds.len(), found.left.len());
    say(&format!("{kept} taken in; {left} things left out"));
    Ok(match kept {
        0 => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}

fn tell(left: &[Left], json: bool) -> anyhow::Result<()> {
    for Left { event, what } in left {
        match json {
            true => line(&mut stdout().lock(), &Object::Left { event, what })?,
            false if event.is_empty() => say(&format!("left out: {what}")),
            false => say(&format!("left out of \"{event}\": {what}")),
        }
    }
    Ok(())
}

fn read(path: &Path) -> anyhow::Result<String> {
    let (from, name): (Box<dyn Read>, String) = match path == Path::new("-") {
        true => (Box::new(stdin().lock()), "standard input".into()),
        false => {
            let name = plain(&path.display().to_string());
            let file = std::fs::File::open(path);
            let file = file.map_err(|error| anyhow::anyhow!(markhold_shelf::io_words(&error)));
            (Box::new(file.with_context(|| name.clone())?), name)
        }
    };
    let mut bytes = Vec::new();
    let read = from.take(MOST_BYTES + 1).read_to_end(&mut bytes);
    read.map_err(|error| anyhow::anyhow!(markhold_shelf::io_words(&error)))
        .with_context(|| name.clone())?;
    if bytes.len() as u64 > MOST_BYTES {
        bail!("{name} is larger than 64 MiB, which no calendar is; name another file");
    }
    // RFC 5545 3.1.4: UTF-8. What is not is shown as such rather than refused.
    Ok(String::from_utf8(bytes)
        .unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned()))
}

pub fn export(shelf: &Shelf, export: &Export, receiver: &Receiver) -> anyhow::Result<Outcome> {
    let skeds = shelf.skeds()?;
    if skeds.is_empty() {
        say("no skeds yet; markhold skeds add makes one");
        return Ok(Outcome::NothingFound);
    }
    let alarms = export
        .alarms
        .clone()
        .unwrap_or_else(|| vec![receiver.warm_up_min.ceil() as u32]);
    let file = calendar::write(&skeds, jiff::tz::db(), Timestamp::now(), &alarms)?;
    stdout().lock().write_all(file.as_bytes())?;
    Ok(Outcome::Done)
}
