//! A person corrects a reading by hand, and chooses which one stands.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_shelf::{Filter, Keeper, Shelf, ShelfError};
use std::path::Path;

fn keep(place: &Path) {
    let keeper = Keeper::begin(place, evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    settle(&keeper);
    for event in transmission(1, 0.5, "THE FERB?Y LEAVES\r\nAT NINE\r\n") {
        keeper.event(&event);
    }
    keeper.finish().unwrap();
}

fn kept() -> (tempfile::TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

/// The lines of a reading: where each begins, and its text.
fn lines(shelf: &Shelf, reading: i64) -> Vec<(f64, String)> {
    let mut all = Vec::new();
    let mut take = |line: markhold_shelf::KeptLine| all.push((line.begin_s, line.text));
    shelf.lines(reading, &mut take).unwrap();
    all
}

fn found(shelf: &Shelf, word: &str) -> usize {
    shelf.search(word, &Filter::default()).unwrap().len()
}

#[test]
fn a_correction_is_one_more_reading_and_stands() {
    let (_folder, mut shelf) = kept();
    let live = shelf.evening(1).unwrap().readings[0].id;
    let before = lines(&shelf, live);
    let at = (1, before[0].0);
    let by_hand = shelf.correct(1, 1, at, "the ferry leaves").unwrap();
    assert_eq!(lines(&shelf, live), before, "the receiver's stays");
    let now = lines(&shelf, by_hand);
    assert_eq!(now[0].1, "THE FERRY LEAVES");
    assert_eq!(now[1..], before[1..]);
    let evening = shelf.evening(1).unwrap();
    let best = evening.best_reading().unwrap();
    assert_eq!((best.id, best.corrects), (by_hand, Some(live)));
    let doubts: Vec<u64> = evening.readings.iter().map(|r| r.doubtful).collect();
    assert_eq!(doubts, [1, 0], "a person has no doubt of it");
    assert_eq!((found(&shelf, "ferry"), found(&shelf, "ferby")), (1, 0));
    // The next one goes into the same reading.
    let at = (1, before[1].0);
    assert_eq!(shelf.correct(1, 2, at, "AT TEN").unwrap(), by_hand);
    assert_eq!(shelf.evening(1).unwrap().readings.len(), 2);
    assert_eq!((found(&shelf, "ten"), found(&shelf, "nine")), (1, 0));
}

#[test]
fn a_person_chooses_which_reading_stands() {
    let (_folder, mut shelf) = kept();
    let live = shelf.evening(1).unwrap().readings[0].id;
    let at = (1, lines(&shelf, live)[0].0);
    let by_hand = shelf.correct(1, 1, at, "THE FERRY LEAVES").unwrap();
    let best = |shelf: &Shelf| shelf.evening(1).unwrap().best_reading().unwrap().id;
    shelf.choose(1, Some(1)).unwrap();
    assert_eq!((best(&shelf), found(&shelf, "ferby")), (live, 1));
    shelf.choose(1, Some(2)).unwrap();
    assert_eq!((best(&shelf), found(&shelf, "ferry")), (by_hand, 1));
    // By itself the shelf lets a receiver's stand.
    shelf.choose(1, None).unwrap();
    assert_eq!(best(&shelf), live);
    shelf.remove(1).unwrap();
    assert_eq!(found(&shelf, "ferry") + found(&shelf, "ferby"), 0);
}

#[test]
fn what_cannot_be_changes_nothing() {
    let (folder, mut shelf) = kept();
    let live = shelf.evening(1).unwrap().readings[0].id;
    let at = (1, lines(&shelf, live)[0].0);
    let wrong = [
        shelf.correct(1, 7, at, "X"),
        shelf.correct(1, 1, (2, at.1), "X"),
        shelf.correct(1, 1, (1, 99.0), "X"),
        shelf.correct(1, 1, at, "\u{e9}"),
    ];
    assert!(matches!(wrong[0], Err(ShelfError::NoReading { .. })));
    assert!(matches!(wrong[1], Err(ShelfError::NoLine { .. })));
    assert!(matches!(wrong[2], Err(ShelfError::NoLine { .. })));
    assert!(matches!(
        wrong[3],
        Err(ShelfError::NotPrinted { found: '\u{c9}' })
    ));
    assert!(shelf.choose(1, Some(7)).is_err());
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 800));
    while keeper.evening().is_none() {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert!(matches!(
        shelf.choose(2, None),
        Err(ShelfError::BeingKept { .. })
    ));
    keeper.finish().unwrap();
    assert_eq!(shelf.evening(1).unwrap().readings.len(), 1);
}
