//! What was sent from here stands on the shelf with what was received, and survives all that does.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_event::SentLine;
use markhold_shelf::{Filter, Keeper, Shelf};

fn sent(number: u64, at_s: f64, text: &str) -> SentLine {
    SentLine {
        number,
        at_s,
        text: text.into(),
        closed: true,
    }
}

/// Called at 0.25 s, answered from 0.5 s on, said goodbye at 1.75 s.
fn contact() -> (tempfile::TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    keeper.sent(sent(0, 0.25, "CQ DE"));
    keeper.sent(sent(0, 0.25, "CQ DE Q1ABC K"));
    let events = transmission(1, 0.5, "Q2HLR\r\n");
    events.iter().for_each(|event| keeper.event(event));
    keeper.sent(sent(1, 1.75, "73 Q2HLR SK"));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

fn traffic(shelf: &Shelf) -> Vec<(&'static str, f64, String)> {
    let evening = shelf.evening(1).unwrap();
    let reading = evening.best_reading().unwrap().id;
    let mut all = Vec::new();
    let mut take = |line: markhold_shelf::Traffic| {
        all.push((line.direction(), line.begin_s(), line.text().to_string()))
    };
    shelf.traffic(1, reading, &mut take).unwrap();
    all
}

fn found(shelf: &Shelf, word: &str) -> Vec<&'static str> {
    let hits = shelf.search(word, &Filter::default()).unwrap();
    hits.iter().map(|hit| hit.line.direction()).collect()
}

#[test]
fn both_stand_in_order_and_are_found() {
    let (_folder, mut shelf) = contact();
    let expected = [
        ("sent", 0.25, "CQ DE Q1ABC K".to_string()),
        ("received", 0.5, "Q2HLR".to_string()),
        ("sent", 1.75, "73 Q2HLR SK".to_string()),
    ];
    assert_eq!(traffic(&shelf), expected);
    assert_eq!(found(&shelf, "q2hlr"), ["sent", "received"]);
    // A line that has grown is found by what it says now, once.
    assert_eq!(found(&shelf, "cq"), ["sent"]);
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
    shelf.remove(1).unwrap();
    assert!(found(&shelf, "q2hlr").is_empty());
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
}

/// A station that sends without listening has an evening of it all the same.
#[test]
fn what_was_sent_is_kept_where_nothing_was_heard() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    keeper.sent(sent(0, 2.5, "CQ DE Q1ABC K"));
    keeper.finish().unwrap();
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let texts: Vec<String> = shelf
        .sent(1)
        .unwrap()
        .into_iter()
        .map(|line| line.text)
        .collect();
    assert_eq!(texts, ["CQ DE Q1ABC K"]);
    assert_eq!(found(&shelf, "cq"), ["sent"]);
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
    shelf.remove(1).unwrap();
    assert!(found(&shelf, "cq").is_empty());
}

#[test]
fn an_archive_that_is_lost_takes_nothing_of_it_along() {
    let (folder, shelf) = contact();
    let before = shelf.sent(1).unwrap();
    drop(shelf);
    for name in [
        "markhold.sqlite",
        "markhold.sqlite-wal",
        "markhold.sqlite-shm",
    ] {
        let _ = std::fs::remove_file(folder.path().join(name));
    }
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.sent(1).unwrap(), before);
    assert_eq!(found(&shelf, "cq"), ["sent"]);
}
