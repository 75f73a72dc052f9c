//! What a person does with an evening: says something of it, or takes it off the shelf.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_shelf::{Filter, Keeper, LONGEST_NOTE, Said, Shelf, ShelfError};
use std::path::Path;

fn keep(place: &Path, begin: &str, text: &str) {
    let keeper = Keeper::begin(place, evening_at(begin), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    settle(&keeper);
    let events = transmission(1, 0.5, text);
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();
}

fn two_evenings() -> (tempfile::TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    for (begin, text) in [
        (
            "2026-03-21T20:30:05+01:00[Europe/Berlin]",
            "THE HERONRY\r\n",
        ),
        (
            "2026-03-22T20:30:05+01:00[Europe/Berlin]",
            "THE ROPEWALK\r\n",
        ),
    ] {
        keep(folder.path(), begin, text);
    }
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

fn found(shelf: &Shelf, word: &str) -> usize {
    shelf.search(word, &Filter::default()).unwrap().len()
}

#[test]
fn what_is_said_stays_with_the_evening() {
    let (folder, mut shelf) = two_evenings();
    assert_eq!(shelf.said(1).unwrap(), Said::default());
    let said = Said {
        note: "first evening with the new aerial\n\"quiet\"".into(),
        station: "Q1ABC".into(),
    };
    shelf.say(1, &said).unwrap();
    assert_eq!(shelf.said(2).unwrap(), Said::default());
    drop(shelf);
    // An archive that is lost takes nothing of it along.
    std::fs::remove_file(folder.path().join("markhold.sqlite")).unwrap();
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let kept: Vec<Said> = shelf
        .evenings(None, None, 10)
        .unwrap()
        .iter()
        .map(|evening| shelf.said(evening.id).unwrap())
        .collect();
    assert_eq!(kept, [said, Said::default()]);
    let long = Said {
        note: "x".repeat(LONGEST_NOTE + 1),
        ..Said::default()
    };
    assert!(matches!(
        shelf.say(1, &long),
        Err(ShelfError::TooLong { .. })
    ));
    assert!(matches!(shelf.said(7), Err(ShelfError::NoEvening { .. })));
}

#[test]
fn an_evening_that_is_removed_is_gone() {
    let (folder, mut shelf) = two_evenings();
    assert_eq!(
        (found(&shelf, "heronry"), found(&shelf, "ropewalk")),
        (1, 1)
    );
    shelf.remove(1).unwrap();
    assert_eq!(
        (found(&shelf, "heronry"), found(&shelf, "ropewalk")),
        (0, 1)
    );
    assert!(matches!(
        shelf.evening(1),
        Err(ShelfError::NoEvening { .. })
    ));
    drop(shelf);
    // It does not come back, and what is left is whole.
    let shelf = Shelf::open(folder.path()).unwrap();
    let left: Vec<i64> = shelf
        .evenings(None, None, 10)
        .unwrap()
        .iter()
        .map(|evening| evening.id)
        .collect();
    assert_eq!(left, [2]);
    let checked = shelf.check().unwrap();
    assert!(checked.is_well(), "{checked:?}");
    assert_eq!(
        std::fs::read_dir(folder.path().join("sound"))
            .unwrap()
            .count(),
        1
    );
}

#[test]
fn an_evening_that_is_being_kept_is_not_removed() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 8_000));
    settle(&keeper);
    let id = keeper
        .wait_for_evening(std::time::Duration::from_secs(20))
        .expect("it is entered");
    let mut shelf = Shelf::open(folder.path()).unwrap();
    assert!(matches!(
        shelf.remove(id),
        Err(ShelfError::BeingKept { .. })
    ));
    keeper.finish().unwrap();
    shelf.remove(id).unwrap();
}
