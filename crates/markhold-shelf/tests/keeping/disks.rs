//! Disks that are full, slow, refuse or fill up: what fits is kept, and what is missing is told.

use super::common::disk::SmallDisk;
use super::common::*;
use super::kept_sound;
use markhold_shelf::{
    Disk, GapCause, KeepNotice, KeepSettings, Keeper, Kept, Shelf, ShelfError, SoundFile,
};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering::SeqCst;
use std::time::Duration;

/// A disk on which this program stumbles over a fault of its own.
struct Faulty;

impl Disk for Faulty {
    fn create(&self, _file: &Path) -> std::io::Result<Box<dyn SoundFile>> {
        panic!("a fault of the program, made by this test");
    }

    fn free_bytes(&self, _folder: &Path) -> Option<u64> {
        None
    }
}

#[test]
fn a_fault_of_the_program_is_told_and_costs_no_more_than_its_part() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin_on(Arc::new(Faulty), folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 8_000));
    wait_until(&keeper, |state| matches!(state.sound, Kept::Failed { .. }));
    // Nor is it forgotten when sound waits longer than any disk may take.
    give(&keeper, &vec![0.0; 40 * RATE as usize]);
    let (_, state) = keeper.state();
    assert!(state.words().contains("start it again"), "{state:?}");
    transmission(1, 1.0, "STILL COPYING")
        .iter()
        .for_each(|event| keeper.event(event));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    let ended = keeper.finish();
    assert!(
        matches!(ended, Err(ShelfError::LeftOver { .. })),
        "{ended:?}"
    );
    let shelf = Shelf::open(folder.path()).unwrap();
    let found = shelf.search("COPYING", &Default::default()).unwrap();
    assert_eq!(found.len(), 1);
}

/// How it is kept is true also while no sound comes that would find the disk full: a device that is
/// out, or a receiver that is off. Nothing is missing then.
#[test]
fn a_disk_that_fills_up_while_no_sound_comes_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let disk = SmallDisk::with_room(1 << 30);
    let settings = KeepSettings {
        retry: Duration::from_millis(20),
        spare_bytes: 1_000,
        ..settings()
    };
    let keeper =
        Keeper::begin_on(Arc::new(disk.clone()), folder.path(), evening(), settings).unwrap();
    give(&keeper, &ramp(0, 8_000));
    settle(&keeper);
    wait_until(&keeper, |state| state.sound == Kept::Yes);
    disk.room.store(500, SeqCst);
    wait_until(&keeper, |state| state.words().contains("the disk is full"));
    disk.room.store(1 << 30, SeqCst);
    wait_until(&keeper, |state| state.sound == Kept::Yes);
    disk.room.store(500, SeqCst);
    wait_until(&keeper, |state| state.words().contains("the disk is full"));
    disk.room.store(1 << 30, SeqCst);
    give(&keeper, &ramp(8_000, 8_000));
    wait_until(&keeper, |state| state.sound == Kept::Yes);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.evening(1).unwrap().gaps, []);
    assert_eq!(kept_sound(&shelf).concat(), ramp(0, 16_000));
}

/// Sound is handed to the system however long the disk takes to put it on itself: there no kill
/// reaches it. That a power cut would, is told for as long as it is so.
#[test]
fn a_disk_that_is_slow_to_settle_keeps_no_sound_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let disk = SmallDisk::with_room(1 << 30);
    let held = disk.held.lock().unwrap();
    let settings = KeepSettings {
        segment_s: 2.0,
        ..settings()
    };
    let keeper =
        Keeper::begin_on(Arc::new(disk.clone()), folder.path(), evening(), settings).unwrap();
    give(&keeper, &ramp(0, 100_000));
    settle(&keeper);
    let waves = std::fs::read_dir(folder.path().join("sound/2026-03-21-193005Z")).unwrap();
    let mut waves: Vec<PathBuf> = waves.map(|entry| entry.unwrap().path()).collect();
    waves.retain(|path| path.extension().is_some_and(|end| end == "wav"));
    waves.sort();
    let all: Vec<Vec<f32>> = waves.iter().map(|path| samples(path)).collect();
    assert_eq!(all.concat(), ramp(0, 100_000));
    wait_until(&keeper, |state| {
        state
            .words()
            .contains("sound is not: the disk has not taken")
    });
    drop(held);
    wait_until(&keeper, |state| state.sound == Kept::Yes);
    keeper.finish().unwrap();
    assert_eq!(
        kept_sound(&Shelf::open(folder.path()).unwrap()).concat(),
        ramp(0, 100_000)
    );
}

/// A disk that refuses to write says itself when it takes sound again: that there seems to be room
/// is not enough.
#[test]
fn a_full_disk_stops_the_recording_and_not_the_copy() {
    let folder = tempfile::tempdir().unwrap();
    let disk = SmallDisk::with_room(20_000);
    let settings = KeepSettings {
        retry: Duration::ZERO,
        ..settings()
    };
    let keeper =
        Keeper::begin_on(Arc::new(disk.clone()), folder.path(), evening(), settings).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| {
        state.words().contains("sound is not: the disk is full")
            || state
                .words()
                .contains("Sound is not kept: the disk is full")
    });
    settle(&keeper);
    transmission(1, 1.0, "STILL COPYING")
        .iter()
        .for_each(|event| keeper.event(event));
    disk.room.store(1 << 30, SeqCst);
    give(&keeper, &ramp(16_000, 8_000));
    wait_for(&keeper, |n| {
        matches!(
            n,
            KeepNotice::SoundMissing {
                cause: GapCause::FullDisk,
                ..
            }
        )
    });
    wait_until(&keeper, |state| state.sound == Kept::Yes);
    keeper.finish().unwrap();

    let shelf = Shelf::open(folder.path()).unwrap();
    let files = shelf.sound(1).unwrap();
    // What fitted is there and readable, and the archive says how much it is.
    let there: Vec<u64> = files
        .iter()
        .map(|(s, path)| {
            let sound = samples(path);
            let from = (s.begin_s * f64::from(RATE)).round() as u64;
            assert_eq!(sound, ramp(from, sound.len() as u64));
            assert_eq!(sound.len() as u64, s.samples);
            s.samples
        })
        .collect();
    assert!(
        there.len() >= 2 && (8_000..9_900).contains(&there[0]),
        "{there:?}"
    );
    assert_eq!(*there.last().unwrap(), 8_000);
    let evening = shelf.evening(1).unwrap();
    let gap = evening.gaps.last().unwrap();
    assert_eq!(gap.cause, GapCause::FullDisk);
    let end_s = gap.begin_s + gap.length_s.unwrap();
    assert!((end_s - 2.0).abs() < 1e-9, "{gap:?}");
    let hits = shelf.search("still", &Default::default()).unwrap();
    assert_eq!(hits[0].line.text(), "STILL COPYING");
}

#[test]
fn recording_leaves_room_for_the_copy() {
    let folder = tempfile::tempdir().unwrap();
    let disk = SmallDisk::with_room(1_000_000);
    let settings = KeepSettings {
        spare_bytes: 2_000_000,
        ..settings()
    };
    let keeper = Keeper::begin_on(Arc::new(disk), folder.path(), evening(), settings).unwrap();
    give(&keeper, &ramp(0, 8_000));
    wait_until(&keeper, |state| {
        state.words().contains("1 MB are left and 2 MB are spared")
    });
    keeper.finish().unwrap();
    let evening = Shelf::open(folder.path()).unwrap().evening(1).unwrap();
    assert_eq!(
        (evening.sound_s, evening.gaps[0].length_s),
        (0.0, Some(1.0))
    );
}

#[test]
fn a_disk_that_is_too_slow_loses_sound_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let disk = SmallDisk {
        slow: Duration::from_millis(15),
        ..SmallDisk::with_room(1 << 30)
    };
    let keeper = Keeper::begin_on(Arc::new(disk), folder.path(), evening(), settings()).unwrap();
    // Forty seconds at once: thirty may wait.
    for second in 0..40 {
        keeper.sound(&ramp(second * 8_000, 8_000));
    }
    assert!(keeper.waiting_s() <= 30.0);
    settle(&keeper);
    keeper.sound(&ramp(320_000, 8_000));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    let gaps = shelf.evening(1).unwrap().gaps;
    assert!(
        gaps.iter().all(|g| g.cause == GapCause::SlowDisk),
        "{gaps:?}"
    );
    let missing_s: f64 = gaps.iter().filter_map(|g| g.length_s).sum();
    assert!((5.0..=10.0).contains(&missing_s), "{missing_s}");
    for (segment, path) in shelf.sound(1).unwrap() {
        let from = (segment.begin_s * 8_000.0).round() as u64;
        assert_eq!(samples(&path), ramp(from, segment.samples));
    }
    let there_s: f64 = shelf
        .sound(1)
        .unwrap()
        .iter()
        .map(|(s, _)| s.end_s() - s.begin_s)
        .sum();
    assert!((there_s + missing_s - 41.0).abs() < 1e-9);
}

#[test]
fn the_oldest_sound_makes_room_and_its_copy_stays() {
    let folder = tempfile::tempdir().unwrap();
    let limit = 200_000;
    let settings = KeepSettings {
        sound_bytes: limit,
        segment_s: 2.0,
        ..settings()
    };
    for day in 1..=3 {
        let begin = format!("2026-03-0{day}T19:00:00Z[UTC]");
        let keeper = Keeper::begin(folder.path(), evening_at(&begin), settings.clone()).unwrap();
        transmission(1, 0.5, "BULLETIN")
            .iter()
            .for_each(|event| keeper.event(event));
        give(&keeper, &ramp(0, 80_000));
        keeper.finish().unwrap();
        let bytes: u64 = walk(&folder.path().join("sound"));
        assert!(bytes <= limit, "{bytes}");
    }
    let shelf = Shelf::open(folder.path()).unwrap();
    let evenings = shelf.evenings(None, None, 10).unwrap();
    let there: Vec<(f64, f64)> = evenings.iter().map(|e| (e.sound_s, e.removed_s)).collect();
    assert_eq!(there, [(0.0, 10.0), (2.0, 8.0), (10.0, 0.0)]);
    assert_eq!(
        shelf.search("bulletin", &Default::default()).unwrap().len(),
        3
    );
    assert_eq!(shelf.check().unwrap(), Default::default());
}

fn walk(folder: &std::path::Path) -> u64 {
    std::fs::read_dir(folder)
        .unwrap()
        .flatten()
        .map(|entry| match entry.file_type().unwrap().is_dir() {
            true => walk(&entry.path()),
            false => entry.metadata().unwrap().len(),
        })
        .sum()
}
