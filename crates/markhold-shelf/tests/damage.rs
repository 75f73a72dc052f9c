//! What a crash, a clumsy hand or a later version leaves: what can be used is used,
//! nothing is touched that is not ours.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_receive::Settings;
use markhold_shelf::{Filter, KeepSettings, Keeper, Shelf, ShelfError};
use std::path::{Path, PathBuf};

/// An evening of three files and some copy.
fn keep(folder: &Path) -> Vec<PathBuf> {
    let settings = KeepSettings {
        segment_s: 1.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder, evening(), settings).unwrap();
    transmission(1, 0.5, "CQ DE Q1ABC\r\nTHE MARSH IS WET")
        .iter()
        .for_each(|event| keeper.event(event));
    give(&keeper, &ramp(0, 24_000));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder).unwrap();
    shelf
        .sound(1)
        .unwrap()
        .into_iter()
        .map(|(_, path)| path)
        .collect()
}

/// Makes the archive forget that the evening ended, as after a crash.
fn forget_the_end(folder: &Path) {
    let archive = rusqlite::Connection::open(folder.join("markhold.sqlite")).unwrap();
    archive
        .execute_batch("UPDATE evenings SET end_ms = NULL; UPDATE readings SET finished = 0")
        .unwrap();
}

#[test]
fn a_crashed_evening_is_ended_with_all_its_sound() {
    let folder = tempfile::tempdir().unwrap();
    let files = keep(folder.path());
    let last = files.last().unwrap();
    // A fourth file was only just begun.
    let begun = last.with_file_name("0004-193008Z.wav");
    std::fs::write(&begun, b"").unwrap();
    // The last file's header is a second behind, and the archive knows nothing of it.
    let mut bytes = std::fs::read(last).unwrap();
    let data_at = bytes.len() - 16_000;
    bytes[data_at - 4..data_at].copy_from_slice(&4_000u32.to_le_bytes());
    bytes[4..8].copy_from_slice(&(data_at as u32 + 4_000 - 8).to_le_bytes());
    std::fs::write(last, &bytes).unwrap();
    forget_the_end(folder.path());
    let archive = rusqlite::Connection::open(folder.path().join("markhold.sqlite")).unwrap();
    archive.execute_batch("DELETE FROM segments WHERE number = 3; UPDATE segments SET samples = 5 WHERE number = 1").unwrap();
    drop(archive);

    let shelf = Shelf::open(folder.path()).unwrap();
    let about: Vec<(u32, f64, u64)> = shelf
        .sound(1)
        .unwrap()
        .iter()
        .map(|(s, _)| (s.number, s.begin_s, s.samples))
        .collect();
    assert_eq!(about, [(1, 0.0, 8_000), (2, 1.0, 8_000), (3, 2.0, 8_000)]);
    assert_eq!(samples(last), ramp(16_000, 8_000));
    assert!(!begun.exists());
    let evening = shelf.evening(1).unwrap();
    assert_eq!(evening.time(3.0).timestamp(), evening.end.unwrap());
    assert!(evening.readings[0].finished);
}

#[test]
fn missing_and_cut_files_cost_only_themselves() {
    let folder = tempfile::tempdir().unwrap();
    let files = keep(folder.path());
    std::fs::remove_file(&files[0]).unwrap();
    let bytes = std::fs::read(&files[1]).unwrap();
    std::fs::write(&files[1], &bytes[..bytes.len() - 3_001]).unwrap();
    std::fs::write(&files[2], b"Dear friends of the marsh").unwrap();
    let mut shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.check().unwrap().missing, files[..1]);
    let mut damaged = Vec::new();
    let reading = shelf.copy_again(1, &Settings::default(), &mut |again| {
        if let markhold_shelf::Again::Damaged(path, why) = again {
            damaged.push((path.to_path_buf(), why));
        }
    });
    let evening = shelf.evening(1).unwrap();
    assert_eq!(damaged.len(), 2, "{damaged:?}");
    assert!(
        damaged[0].1.contains("1501 samples are missing"),
        "{damaged:?}"
    );
    assert!(damaged[1].1.contains("not a sound file"), "{damaged:?}");
    // The damaged reading is there, but the live one is shown.
    assert_eq!(evening.readings[1].id, reading.unwrap());
    assert!(!evening.readings[1].whole && evening.best == 0);
}

#[test]
fn files_of_other_origin_are_named_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let files = keep(folder.path());
    let beside = files[0].parent().unwrap();
    let foreign = [
        beside.join("0001-letter.txt"),
        beside.join("9999-193005Z.wav"),
        beside.join("notes.wav"),
    ];
    foreign
        .iter()
        .for_each(|path| std::fs::write(path, b"Dear friends").unwrap());
    std::fs::create_dir(folder.path().join("sound/holiday")).unwrap();
    std::fs::write(folder.path().join("sound/holiday/sea.jpg"), b"\xFF\xD8\xFF").unwrap();
    forget_the_end(folder.path());
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.sound(1).unwrap().len(), 3);
    assert_eq!(shelf.check().unwrap().foreign.len(), 4);
    foreign
        .iter()
        .for_each(|path| assert_eq!(std::fs::read(path).unwrap(), b"Dear friends"));
}

#[test]
fn an_evening_without_any_sound_left_keeps_its_copy() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    std::fs::remove_dir_all(folder.path().join("sound")).unwrap();
    forget_the_end(folder.path());
    let mut shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.search("marsh", &Filter::default()).unwrap().len(), 1);
    let error = shelf
        .copy_again(1, &Settings::default(), &mut |_| {})
        .unwrap_err();
    assert!(matches!(error, ShelfError::NoSound { evening: 1 }));
    // And the next evening can be kept.
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    keeper.sound(&ramp(0, 800));
    let number = keeper.wait_for_evening(std::time::Duration::from_secs(20));
    assert_eq!(number, Some(2));
}

#[test]
fn an_archive_of_a_later_version_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    let file = folder.path().join("markhold.sqlite");
    let archive = rusqlite::Connection::open(&file).unwrap();
    archive.pragma_update(None, "user_version", 99).unwrap();
    drop(archive);
    let message = Shelf::open(folder.path()).err().unwrap().to_string();
    assert!(
        message.contains("layout 99") && message.contains("update markhold"),
        "{message}"
    );
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    keeper.sound(&ramp(0, 800));
    wait_until(&keeper, |state| state.words().contains("layout 99"));
    assert!(keeper.finish().is_err());
    let version = rusqlite::Connection::open(&file).unwrap();
    let version: i64 = version
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .unwrap();
    assert_eq!(version, 99);
}

#[test]
fn a_damaged_line_still_shows_its_text() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    let archive = rusqlite::Connection::open(folder.path().join("markhold.sqlite")).unwrap();
    archive
        .execute_batch("UPDATE lines SET details = x'0102' WHERE number = 0")
        .unwrap();
    drop(archive);
    let shelf = Shelf::open(folder.path()).unwrap();
    let mut lines = Vec::new();
    shelf.lines(1, &mut |line| lines.push(line)).unwrap();
    assert_eq!(lines[0].text, "CQ DE Q1ABC");
    assert!(lines[0].characters().is_err() && lines[1].characters().is_ok());
    let mut events = 0;
    assert!(shelf.events(1, &mut |_| events += 1).is_err());
    assert_eq!(events, 2 + "THE MARSH IS WET".len());
}

#[test]
fn what_is_typed_is_never_a_syntax_error() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    let shelf = Shelf::open(folder.path()).unwrap();
    let find = |asked: &str| {
        shelf
            .search(asked, &Filter::default())
            .map(|hits| hits.len())
    };
    for (asked, expected) in [
        ("marsh", 1),
        ("MAR", 1),
        ("\"marsh is\"", 1),
        ("\"is marsh\"", 0),
        ("q1abc cq", 1),
        ("arsh", 0),
    ] {
        assert_eq!(find(asked).unwrap(), expected, "{asked}");
    }
    let odd = [
        "AND",
        "NOT marsh",
        "text:marsh",
        "NEAR(a b)",
        "(",
        "a*",
        "\"",
        "a\"b",
        "-x",
        "^marsh",
        "{x}",
        "'; DROP TABLE lines",
        "\0",
        "ÄÖ£",
        "𝕏",
        "a OR",
    ];
    for asked in odd {
        match find(asked) {
            Ok(_) | Err(ShelfError::NothingToSearch { .. }) => {}
            Err(error) => panic!("{asked:?}: {error}"),
        }
    }
    assert_eq!(find("marsh").unwrap(), 1);
}

#[test]
fn dates_bound_a_search() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path());
    let shelf = Shelf::open(folder.path()).unwrap();
    // The second line begins 0.5 s + 13 characters of 0.165 s after the evening.
    let line = evening().begin.timestamp() + jiff::SignedDuration::from_millis(2_645);
    let millisecond = jiff::SignedDuration::from_millis(1);
    let found = |from, until| {
        shelf
            .search(
                "marsh",
                &Filter {
                    from,
                    until,
                    ..Filter::default()
                },
            )
            .unwrap()
            .len()
    };
    assert_eq!(
        (
            found(None, None),
            found(Some(line), None),
            found(Some(line + millisecond), None)
        ),
        (1, 1, 0)
    );
    assert_eq!(
        (
            found(None, Some(line)),
            found(None, Some(line + millisecond))
        ),
        (0, 1)
    );
}
