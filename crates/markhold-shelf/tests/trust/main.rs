//! An evening is never lost: whatever became of the archive, the folder or the clock, the sound
//! is kept, and what is not kept is said for as long as it is true.
#![allow(missing_docs, reason = "tests")]

mod archive;
mod clock;
#[path = "../common/mod.rs"]
mod common;
mod evening;

use common::*;
use markhold_shelf::{
    GapCause, KeepNotice, KeepSettings, KeepState, Keeper, Kept, Shelf, ShelfError,
};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const FILE: &str = "markhold.sqlite";

fn archive(place: &Path) -> PathBuf {
    place.join(FILE)
}

fn hold(place: &Path) -> rusqlite::Connection {
    let other = rusqlite::Connection::open(archive(place)).unwrap();
    other
        .pragma_update(None, "locking_mode", "exclusive")
        .unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    other
}

fn say(keeper: &Keeper, text: &str) {
    transmission(1, 0.5, text)
        .iter()
        .for_each(|event| keeper.event(event));
}

/// Keeps an evening of two seconds from beginning to end.
fn keep(place: &Path, begin: &str, text: &str) {
    let keeper = Keeper::begin(place, evening_at(begin), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    say(&keeper, text);
    keeper.copied(2.0);
    keeper.finish().unwrap();
}

fn found(shelf: &Shelf, word: &str) -> usize {
    shelf.search(word, &Default::default()).unwrap().len()
}

/// Sound of an evening as it is on the shelf, s.
fn sound_s(shelf: &Shelf, evening: i64) -> f64 {
    let files = shelf.sound(evening).unwrap();
    files
        .iter()
        .map(|(_, path)| samples(path).len() as f64 / f64::from(RATE))
        .sum()
}
