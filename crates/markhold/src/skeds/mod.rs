//! `markhold skeds`: transmissions that come at set times.

mod book;
mod dial;
mod edit;
mod files;
mod given;
mod heard;
mod history;
mod known;
mod next;
mod object;
mod options;
mod past;
mod receiver;
mod service;
mod tonight;
pub mod waits;
mod watch;
mod words;

pub use book::{Book, PRACTICE_WAITS, practice_skeds};
pub use options::Options;
pub use receiver::Receiver;

use crate::machine::{Outfit, SettingsMachines};
use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_shelf::{Shelf, ShelfError, usual_place};
use options::Command;
use std::path::Path;

/// Does what was asked.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let place = match &options.place {
        Some(place) => place.clone(),
        None => usual_place().context("no home folder; name the shelf's folder with --shelf")?,
    };
    let settings = options.settings.as_ref();
    let receiver = || Receiver::of(settings);
    let machines = || {
        let settings = settings.cloned();
        let outfit = Outfit {
            settings,
            ..Outfit::default()
        };
        SettingsMachines::new(outfit, None)
    };
    match &options.command {
        Command::Add(add) => edit::add(&mut Shelf::make(&place)?, add, &machines()),
        Command::Import(import) => files::import(&place, import),
        Command::Watch(watch) => watch::run(place, settings, watch),
        Command::Service(service) => service::run(&place, settings, service),
        Command::List(list) => on(&place, |shelf| edit::list(&shelf, list)),
        Command::Change(change) => on(&place, |mut shelf| {
            edit::change(&mut shelf, change, &machines())
        }),
        Command::Remove(remove) => on(&place, |mut shelf| edit::remove(&mut shelf, remove)),
        Command::Dial(said) => dial::run(&mut Shelf::make(&place)?, said, &receiver()?),
        Command::Heard(heard) => on(&place, |mut s| heard::run(&mut s, heard, &receiver()?)),
        Command::Next(next) => on(&place, |shelf| next::run(&shelf, next, &receiver()?)),
        Command::Known(known) => on(&place, |mut shelf| known::run(&mut shelf, known)),
        Command::Past(past) => on(&place, |shelf| past::run(&shelf, past)),
        Command::Export(export) => on(&place, |shelf| files::export(&shelf, export, &receiver()?)),
    }
}

/// On the shelf that is there; where there is none, there are no skeds either.
fn on(place: &Path, ask: impl FnOnce(Shelf) -> anyhow::Result<Outcome>) -> anyhow::Result<Outcome> {
    match Shelf::open(place) {
        Ok(shelf) => ask(shelf),
        Err(error @ ShelfError::Nothing { .. }) => {
            say(&format!(
                "markhold: {error}; `markhold skeds add` makes the first sked"
            ));
            Ok(Outcome::NothingFound)
        }
        Err(error) => Err(error.into()),
    }
}
