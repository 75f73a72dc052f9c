//! An evening is kept: sound sample for sample, copy character for character, and what
//! was missing is marked.
#![allow(missing_docs, reason = "tests")]

#[path = "../common/mod.rs"]
mod common;
mod disks;
use common::*;
use markhold_event::Event;
use markhold_shelf::{GapCause, KeepSettings, KeepState, Keeper, Kept, LocalDisk, Recorder, Shelf};
use std::sync::Arc;
use std::time::Duration;

/// All sound of the only evening in order, file by file.
fn kept_sound(shelf: &Shelf) -> Vec<Vec<f32>> {
    let files = shelf.sound(1).unwrap();
    files.iter().map(|(_, path)| samples(path)).collect()
}

#[test]
fn sound_and_copy_come_back_as_they_were_given() {
    let folder = tempfile::tempdir().unwrap();
    let settings = KeepSettings {
        segment_s: 2.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), settings).unwrap();
    let sound = ramp(0, 50_000);
    give(&keeper, &sound);
    let one = transmission(1, 0.5, "CQ CQ DE Q1ABC\r\nGOOD EV?ENING\r\n");
    let two = transmission(2, 1.0, "SECOND SIGNAL");
    let events: Vec<Event> = one.into_iter().chain(two).collect();
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();

    let shelf = Shelf::open(folder.path()).unwrap();
    let files = kept_sound(&shelf);
    assert_eq!(
        files.iter().map(Vec::len).collect::<Vec<_>>(),
        [16_000, 16_000, 16_000, 2_000]
    );
    assert_eq!(files.concat(), sound);
    let evening = shelf.evening(1).unwrap();
    assert_eq!(evening.begin, common::evening().begin);
    assert_eq!(evening.settings, common::evening().settings);
    assert_eq!(
        evening.end.unwrap().as_millisecond() - evening.begin.timestamp().as_millisecond(),
        6_250
    );
    let reading = evening.best_reading().unwrap();
    assert!(reading.live && reading.finished && reading.whole);
    assert_eq!(
        (reading.characters, reading.doubtful, reading.signals),
        (43, 1, 2)
    );
    // Found and characters of both in order of time, then the ends.
    let mut back = Vec::new();
    shelf
        .events(reading.id, &mut |event| back.push(event))
        .unwrap();
    assert_eq!(back.len(), events.len());
    for event in &events {
        assert!(back.iter().any(|b| same(b, event)), "{event:?}");
    }
}

/// The same event, to the resolution of the archive: 0.1 ms, 0.1 % of the odds.
fn same(a: &Event, b: &Event) -> bool {
    match (a, b) {
        (Event::Character(a), Event::Character(b)) => {
            (a.signal, a.code, a.shift, a.symbol, a.doubt)
                == (b.signal, b.code, b.shift, b.symbol, b.doubt)
                && (a.start_s - b.start_s).abs() < 1e-4
                && (a.probability - b.probability).abs() < 1e-3
                && (a.alternatives[0].probability - b.alternatives[0].probability).abs() < 1e-3
        }
        _ => a == b,
    }
}

#[test]
fn holes_are_silence_or_a_new_file_and_marked() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    keeper.sound(&ramp(0, 4_000));
    keeper.gap(400, GapCause::Lost);
    keeper.sound(&ramp(4_400, 3_600));
    keeper.gap(80_000, GapCause::Device);
    keeper.sound(&ramp(88_000, 8_000));
    keeper.gap(None, GapCause::Lost);
    // Another input after ten more seconds, at another rate; its receiver counts anew.
    let begin = evening().begin.timestamp() + Duration::from_secs(22);
    transmission(1, 1.0, "ONE")
        .iter()
        .for_each(|event| keeper.event(event));
    keeper.restart("the other receiver", 12_000, begin, GapCause::Stopped);
    keeper.sound(&ramp(0, 6_000));
    transmission(1, 1.0, "TWO")
        .iter()
        .for_each(|event| keeper.event(event));
    keeper.finish().unwrap();

    let shelf = Shelf::open(folder.path()).unwrap();
    let about: Vec<(f64, u32, u64)> = shelf
        .sound(1)
        .unwrap()
        .iter()
        .map(|(s, _)| (s.begin_s, s.rate, s.samples))
        .collect();
    assert_eq!(
        about,
        [
            (0.0, 8_000, 8_000),
            (11.0, 8_000, 8_000),
            (22.0, 12_000, 6_000)
        ]
    );
    let first = &kept_sound(&shelf)[0];
    assert_eq!(first[..4_000], ramp(0, 4_000));
    assert!(first[4_000..4_400].iter().all(|s| *s == 0.0));
    assert_eq!(first[4_400..], ramp(4_400, 3_600));
    let evening = shelf.evening(1).unwrap();
    let gaps: Vec<_> = evening
        .gaps
        .iter()
        .map(|g| (g.begin_s, g.length_s, g.cause))
        .collect();
    assert_eq!(
        gaps,
        [
            (0.5, Some(0.05), GapCause::Lost),
            (1.0, Some(10.0), GapCause::Device),
            (12.0, None, GapCause::Lost),
            (12.0, Some(10.0), GapCause::Stopped)
        ]
    );
    assert_eq!(evening.input, "receiver on the marsh, the other receiver");
    let mut lines = Vec::new();
    shelf
        .lines(evening.readings[0].id, &mut |line| {
            lines.push((line.signal, line.text, line.begin_s))
        })
        .unwrap();
    assert_eq!(
        lines,
        [(1, "ONE".to_string(), 1.0), (2, "TWO".to_string(), 23.0)]
    );
}

#[test]
fn two_evenings_may_begin_in_the_same_second() {
    let folder = tempfile::tempdir().unwrap();
    let keepers = [(); 3].map(|()| Keeper::begin(folder.path(), evening(), settings()).unwrap());
    for (k, keeper) in (1u64..).zip(&keepers) {
        keeper.sound(&ramp(0, 1_000 * k));
    }
    for keeper in &keepers {
        wait_until(keeper, |state| state.copy == Kept::Yes);
    }
    // Opening the shelf meanwhile ends none of them.
    let shelf = Shelf::open(folder.path()).unwrap();
    assert!(
        shelf
            .evenings(None, None, 10)
            .unwrap()
            .iter()
            .all(|e| e.end.is_none())
    );
    for keeper in keepers {
        keeper.finish().unwrap();
    }
    let mut lengths: Vec<f64> = shelf
        .evenings(None, None, 10)
        .unwrap()
        .iter()
        .map(|e| e.sound_s)
        .collect();
    // Whichever was entered first.
    lengths.sort_by(f64::total_cmp);
    assert_eq!(lengths, [0.125, 0.25, 0.375]);
}

/// What was flushed is in the file, whatever becomes of the recorder; an outside reader
/// (the hound crate) agrees on its length.
#[test]
fn the_file_is_readable_after_every_flush() {
    let folder = tempfile::tempdir().unwrap();
    let begin = evening().begin.timestamp();
    let mut recorder = Recorder::new(folder.path(), Arc::new(LocalDisk), begin, RATE, 1.0);
    for k in 0..20u64 {
        recorder.write(k * 1_000, &ramp(k * 1_000, 1_000)).unwrap();
        recorder.flush().unwrap();
        let current = recorder.current().unwrap();
        let path = folder.path().join(&current.file);
        let outside = hound::WavReader::open(&path).unwrap();
        assert_eq!(u64::from(outside.duration()), current.samples);
    }
    assert_eq!(recorder.current().unwrap().file, "0003-193007Z.wav");
}

/// Another program writes and holds the archive: the copy waits, the sound does not.
#[test]
fn copy_waits_for_an_archive_that_is_held() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 4_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    let other = rusqlite::Connection::open(folder.path().join("markhold.sqlite")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    transmission(1, 1.0, "PATIENCE")
        .iter()
        .for_each(|event| keeper.event(event));
    give(&keeper, &ramp(4_000, 4_000));
    let locked = |state: &KeepState| {
        state
            .words()
            .contains("copy is not: the archive is locked by another program")
    };
    wait_until(&keeper, locked);
    settle(&keeper);
    let file = std::fs::read_dir(folder.path().join("sound/2026-03-21-193005Z")).unwrap();
    let wav = file
        .flatten()
        .map(|entry| entry.path())
        .find(|p| p.extension().is_some_and(|e| e == "wav"));
    assert_eq!(samples(&wav.unwrap()), ramp(0, 8_000));
    other.execute_batch("ROLLBACK").unwrap();
    wait_until(&keeper, KeepState::is_well);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(
        shelf.search("patience", &Default::default()).unwrap().len(),
        1
    );
}
