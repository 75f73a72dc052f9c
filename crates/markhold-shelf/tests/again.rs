//! Copying again from the kept sound gives what was copied live, in the same places.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::{scene, sound};
use common::*;
use markhold_receive::{Receiver, Settings};
use markhold_shelf::{Again, GapCause, Keeper, Shelf, settings_to_json};
use std::path::Path;

fn sound_of(text: &str, rate: u32) -> Vec<f32> {
    sound(scene(text), rate)
}

/// Hears and keeps sound, as the live engine does; a hole is silence to the receiver.
fn hear(keeper: &Keeper, rate: u32, parts: [&[f32]; 2], hole: usize) {
    let mut receiver = Receiver::new(f64::from(rate), Settings::default()).unwrap();
    let keep = &mut |event| keeper.event(&event);
    give(keeper, parts[0]);
    receiver.process(parts[0], keep);
    if hole > 0 {
        keeper.gap(hole as u64, GapCause::Lost);
        receiver.process(&vec![0.0; hole], keep);
    }
    give(keeper, parts[1]);
    receiver.process(parts[1], keep);
    receiver.finish(keep);
}

/// Begin, s, and text of every line.
fn lines(shelf: &Shelf, reading: i64) -> Vec<(f64, String)> {
    let mut lines = Vec::new();
    shelf
        .lines(reading, &mut |line| lines.push((line.begin_s, line.text)))
        .unwrap();
    lines
}

fn again(place: &Path) -> (Shelf, Vec<String>) {
    let mut shelf = Shelf::open(place).unwrap();
    let mut damaged = Vec::new();
    shelf
        .copy_again(1, &Settings::default(), &mut |what| {
            if let Again::Damaged(_, why) = what {
                damaged.push(why);
            }
        })
        .unwrap();
    (shelf, damaged)
}

#[test]
fn the_new_reading_equals_the_live_one() {
    let folder = tempfile::tempdir().unwrap();
    let about = markhold_shelf::Evening {
        settings: settings_to_json(&Settings::default()),
        ..evening()
    };
    let keeper = Keeper::begin(folder.path(), about, settings()).unwrap();
    // A hole of three seconds in the text, past what is silence on the disk; then another
    // input at another rate a minute and a half later.
    let first = sound_of(
        &"THE MARSH IS WET\r\nAND THE PUMP IS DRY\r\n".repeat(4),
        8_000,
    );
    let (before, after) = first.split_at(first.len() / 2);
    hear(&keeper, 8_000, [before, after], 24_000);
    let later = evening().begin.timestamp() + jiff::SignedDuration::from_secs(90);
    keeper.restart("the other receiver", 12_000, later, GapCause::Stopped);
    let second = sound_of("GOOD NIGHT ALL", 12_000);
    hear(&keeper, 12_000, [&second, &[]], 0);
    keeper.finish().unwrap();

    let (shelf, damaged) = again(folder.path());
    assert!(damaged.is_empty(), "{damaged:?}");
    let evening = shelf.evening(1).unwrap();
    let [live, new] = &evening.readings[..] else {
        panic!("two readings: {:?}", evening.readings);
    };
    assert!(new.whole && new.finished && evening.best == 1);
    assert_eq!(live.settings, new.settings);
    assert!((live.heard_s - new.heard_s).abs() < 1e-6);
    let (live, new) = (lines(&shelf, live.id), lines(&shelf, new.id));
    let count = |text: &str| live.iter().filter(|(_, line)| line == text).count();
    assert!(
        count("THE MARSH IS WET") >= 2 && count("AND THE PUMP IS DRY") >= 2,
        "{live:?}"
    );
    assert_eq!(live.len(), new.len());
    for (a, b) in live.iter().zip(&new) {
        // 16 bits move a start by a little.
        assert!(a.1 == b.1 && (a.0 - b.0).abs() < 1e-3, "{a:?} {b:?}");
    }
    let last = live.last().unwrap();
    assert!(last.0 > 90.0 && last.1 == "GOOD NIGHT ALL", "{last:?}");
}

#[test]
fn a_part_copied_again_does_not_replace_the_whole() {
    let folder = tempfile::tempdir().unwrap();
    let kept = markhold_shelf::KeepSettings {
        segment_s: 5.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), kept).unwrap();
    let sound = sound_of(
        "THE MARSH IS WET\r\nAND THE PUMP IS DRY\r\nGOOD NIGHT ALL",
        8_000,
    );
    hear(&keeper, 8_000, [&sound, &[]], 0);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    std::fs::remove_file(&shelf.sound(1).unwrap()[0].1).unwrap();
    drop(shelf);

    let (shelf, _) = again(folder.path());
    let evening = shelf.evening(1).unwrap();
    assert!(!evening.readings[1].whole && evening.best == 0);
    assert_eq!(lines(&shelf, evening.readings[0].id).len(), 3);
}
