//! `markhold skeds`: transmissions that come at set times.

mod book;
mod edit;
mod files;
mod given;
mod heard;
mod next;
mod object;
mod options;
mod receiver;
mod tonight;
mod words;

pub use book::Book;
pub use options::Options;
pub use receiver::Receiver;

use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_shelf::{Shelf, ShelfError, usual_place};
use options::Command;
use std::path::PathBuf;

/// Does what was asked.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let place = match &options.place {
        Some(place) => place.clone(),
        None => usual_place().context("no home folder; name the shelf's folder with --shelf")?,
    };
    match &options.command {
        Command::Add(add) => edit::add(&mut Shelf::make(&place)?, add),
        Command::Import(import) => files::import(&place, import),
        other => match Shelf::open(&place) {
            Ok(shelf) => kept(shelf, other, options.settings.as_ref()),
            Err(error @ ShelfError::Nothing { .. }) => {
                say(&format!("markhold: {error}; `markhold skeds add` makes the first sked"));
                Ok(Outcome::NothingFound)
            }
            Err(error) => Err(error.into()),
        },
    }
}

fn kept(
    mut shelf: Shelf,
    command: &Command,
    settings: Option<&PathBuf>,
) -> anyhow::Result<Outcome> {
    match command {
        Command::Add(add) => edit::add(&mut shelf, add),
        Command::List(list) => edit::list(&shelf, list),
        Command::Change(change) => edit::change(&mut shelf, change),
        Command::Remove(remove) => edit::remove(&mut shelf, remove),
        Command::Heard(heard) => heard::run(&mut shelf, heard, &Receiver::of(settings)?),
        Command::Next(next) => next::run(&shelf, next, &Receiver::of(settings)?),
        Command::Import(import) => files::import(shelf.place(), import),
        Command::Export(export) => files::export(&shelf, export, &Receiver::of(settings)?),
    }
}
