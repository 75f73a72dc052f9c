//! An evening is never lost: whatever became of the archive, the folder or the clock, the sound
//! is kept, and what is not kept is said for as long as it is true.
#![allow(missing_docs, reason = "tests")]

mod common;
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

#[test]
fn a_damaged_archive_is_set_aside_and_made_again() {
    let letter = "Dear friends of the marsh, ".repeat(500);
    type Harm = fn(&mut Vec<u8>);
    let harms: [(&str, Harm); 4] = [
        ("no byte is left", |bytes| bytes.clear()),
        ("the first page is gone", |bytes| bytes[..4096].fill(0)),
        ("all but the first page is gone", |bytes| {
            bytes[4096..].fill(0x5a)
        }),
        ("half of it", |bytes| {
            bytes.truncate(bytes.len() / 2 / 4096 * 4096)
        }),
    ];
    let mut cases: Vec<(&str, Vec<u8>)> = Vec::new();
    let made = tempfile::tempdir().unwrap();
    keep(made.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    for (name, harm) in harms {
        let mut bytes = std::fs::read(archive(made.path())).unwrap();
        harm(&mut bytes);
        cases.push((name, bytes));
    }
    cases.push(("a letter in its place", letter.into_bytes()));
    for (name, bytes) in cases {
        let folder = tempfile::tempdir().unwrap();
        keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
        for behind in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(folder.path().join(format!("{FILE}{behind}")));
        }
        std::fs::write(archive(folder.path()), &bytes).unwrap();
        let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
        give(&keeper, &ramp(0, 16_000));
        say(&keeper, "TONIGHT");
        let notice = wait_for(&keeper, |n| matches!(n, KeepNotice::SetAside { .. }));
        let KeepNotice::SetAside { file } = &notice else {
            unreachable!("just seen")
        };
        let aside = file.as_ref().map(|file| std::fs::read(file).unwrap());
        assert_eq!(
            aside.unwrap_or_default(),
            bytes,
            "{name}: nothing of it is lost"
        );
        wait_until(&keeper, |state| state.copy == Kept::Yes);
        keeper.finish().unwrap();
        let shelf = Shelf::open(folder.path()).unwrap();
        assert_eq!(
            (sound_s(&shelf, 1), sound_s(&shelf, 2)),
            (2.0, 2.0),
            "{name}"
        );
        let first = shelf.evening(1).unwrap();
        assert_eq!(first.begin.timestamp().to_string(), "2026-03-20T19:00:00Z");
        assert_eq!(first.input, "receiver on the marsh");
        assert!(
            first.gaps.is_empty(),
            "it ended in good order: {:?}",
            first.gaps
        );
        assert_eq!(found(&shelf, "tonight"), 1, "{name}");
        assert!(shelf.check().unwrap().is_well(), "{name}");
    }
}

#[test]
fn the_daily_copy_gives_the_copy_back() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let caring = KeepSettings {
        care: true,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), caring).unwrap();
    give(&keeper, &ramp(0, 16_000));
    let begin = Instant::now();
    let copies = folder.path().join("copies");
    let made = || std::fs::read_dir(&copies).is_ok_and(|entries| entries.count() == 1);
    // Who makes it stands back behind all others: on a busy machine that takes a while.
    while !made() {
        assert!(begin.elapsed() < Duration::from_secs(180), "no copy");
        std::thread::sleep(Duration::from_millis(20));
    }
    keeper.finish().unwrap();
    std::fs::write(archive(folder.path()), b"Dear friends of the marsh").unwrap();
    let _ = std::fs::remove_file(folder.path().join(format!("{FILE}-wal")));
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(found(&shelf, "marsh"), 1);
    assert_eq!(shelf.evenings(None, None, 10).unwrap().len(), 3);
}

/// Copies the folder of a shelf's only evening onto another shelf.
fn hand_over(from: &Path, to: &Path) {
    let evening = std::fs::read_dir(from.join("sound")).unwrap().next();
    let evening = evening.unwrap().unwrap();
    let there = to.join("sound").join(evening.file_name());
    std::fs::create_dir_all(&there).unwrap();
    for file in std::fs::read_dir(evening.path()).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), there.join(file.file_name())).unwrap();
    }
}

/// Station, evening, signal and id name a character on every machine.
#[test]
fn an_evening_made_again_elsewhere_stays_that_of_its_station() {
    let places = [(); 3].map(|()| tempfile::tempdir().unwrap());
    let [first, second, third] = places.each_ref().map(|place| place.path());
    keep(first, "2026-03-21T20:30:05+01:00[Europe/Berlin]", "FIRST");
    keep(second, "2026-03-22T20:30:05+01:00[Europe/Berlin]", "SECOND");
    let own = Shelf::open(first).unwrap();
    let station = own.station().unwrap();
    let character = common::characters::character(1, 0.5, 'A', false);
    let key = own.key(1, &character).unwrap();
    assert_eq!((key.station, key.evening), (station, 1));
    drop(own);
    // Where there is nothing yet, and where its number is another evening's.
    for (place, number) in [(third, 1), (second, 2)] {
        hand_over(first, place);
        let shelf = Shelf::open(place).unwrap();
        assert_ne!(shelf.station().unwrap(), station);
        let evening = shelf.evening(number).unwrap();
        assert_eq!((evening.station, evening.number), (station, 1));
        assert_eq!(shelf.key(number, &character).unwrap(), key);
        assert!((sound_s(&shelf, number) - 2.0).abs() < 1e-9);
    }
    let shelf = Shelf::open(second).unwrap();
    let mine = shelf.evening(1).unwrap();
    assert_eq!((mine.station, mine.number), (shelf.station().unwrap(), 1));
    // Its own archive lost: a new one has another name, the evening keeps its own.
    std::fs::remove_file(archive(first)).unwrap();
    let again = Shelf::open(first).unwrap();
    assert_ne!(again.station().unwrap(), station);
    assert_eq!(again.key(1, &character).unwrap(), key);
}

#[test]
fn an_archive_that_is_locked_at_the_start_is_opened_later() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let other = hold(folder.path());
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    say(&keeper, "PATIENCE");
    let told = wait_until(&keeper, |state| {
        state.words()
            == "Sound is kept; copy is not: the archive is locked by another program, trying again."
    });
    assert!(told < Duration::from_secs(6), "{told:?}");
    drop(other);
    wait_until(&keeper, KeepState::is_well);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!((found(&shelf, "patience"), sound_s(&shelf, 2)), (1, 2.0));
}

#[test]
fn an_evening_that_ends_while_the_archive_is_locked_is_found_again() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let other = hold(folder.path());
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    keeper.gap(800, GapCause::Lost);
    say(&keeper, "PATIENCE");
    let begin = Instant::now();
    let error = keeper.finish().unwrap_err();
    assert!(matches!(error, ShelfError::LeftOver { .. }), "{error}");
    assert!(
        begin.elapsed() < Duration::from_secs(5),
        "{:?}",
        begin.elapsed()
    );
    drop(other);
    let shelf = Shelf::open(folder.path()).unwrap();
    let evening = shelf.evening(2).unwrap();
    assert_eq!(sound_s(&shelf, 2), 2.0);
    assert_eq!(evening.begin, common::evening().begin);
    let gaps: Vec<_> = evening
        .gaps
        .iter()
        .map(|g| (g.begin_s, g.length_s, g.cause))
        .collect();
    assert_eq!(gaps, [(2.0, Some(0.1), GapCause::Lost)]);
    // Its copy is still to come.
    let live = &evening.readings[0];
    assert_eq!((live.copied_s, live.characters), (0.0, 0));
}

#[test]
fn a_shelf_that_cannot_be_made_is_made_once_it_can() {
    let folder = tempfile::tempdir().unwrap();
    let in_the_way = folder.path().join("disk");
    std::fs::write(&in_the_way, b"a file where the disk is mounted").unwrap();
    let place = in_the_way.join("shelf");
    let settings = KeepSettings {
        retry: Duration::from_millis(100),
        ..settings()
    };
    let keeper = Keeper::begin(&place, evening(), settings).unwrap();
    give(&keeper, &ramp(0, 8_000));
    wait_until(&keeper, |state| {
        state
            .words()
            .contains("a file stands where a folder was expected")
            && matches!(state.sound, Kept::No { .. })
    });
    say(&keeper, "PATIENCE");
    std::fs::remove_file(&in_the_way).unwrap();
    let mut at = 8_000;
    while keeper.state().1.sound != Kept::Yes {
        std::thread::sleep(Duration::from_millis(20));
        keeper.sound(&ramp(at, 160));
        at += 160;
        assert!(at < 100_000, "{:?}", keeper.state());
    }
    keeper.sound(&ramp(at, 8_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    keeper.finish().unwrap();
    let shelf = Shelf::open(&place).unwrap();
    let evening = shelf.evening(1).unwrap();
    assert_eq!(found(&shelf, "patience"), 1);
    let missing_s: f64 = evening.gaps.iter().filter_map(|gap| gap.length_s).sum();
    let all_s = (at + 8_000) as f64 / f64::from(RATE);
    assert!(
        (sound_s(&shelf, 1) + missing_s - all_s).abs() < 1e-6,
        "{:?}",
        evening.gaps
    );
}

#[test]
fn a_folder_deleted_under_it_is_told_and_made_again() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("shelf");
    let keeper = Keeper::begin(&place, evening(), settings()).unwrap();
    let mut at = 0;
    let mut go_on = |seconds: f64| {
        let end = Instant::now() + Duration::from_secs_f64(seconds);
        while Instant::now() < end {
            keeper.sound(&ramp(at, 160));
            at += 160;
            std::thread::sleep(Duration::from_millis(5));
        }
    };
    say(&keeper, "BEFORE");
    go_on(1.5);
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    std::fs::remove_dir_all(&place).unwrap();
    // Within seconds.
    go_on(3.0);
    let gone = keeper.notices();
    assert!(gone.contains(&KeepNotice::ArchiveGone), "{gone:?}");
    let deleted = |n: &KeepNotice| {
        matches!(
            n,
            KeepNotice::SoundMissing {
                cause: GapCause::Deleted,
                ..
            }
        )
    };
    assert!(gone.iter().any(deleted), "{gone:?}");
    transmission(2, 6.0, "AFTER")
        .iter()
        .for_each(|event| keeper.event(event));
    wait_until(&keeper, KeepState::is_well);
    keeper.finish().unwrap();
    let shelf = Shelf::open(&place).unwrap();
    let evening = shelf.evening(1).unwrap();
    assert_eq!(found(&shelf, "after"), 1);
    let gaps = &evening.gaps;
    assert_eq!(
        (gaps.len(), gaps[0].cause, gaps[0].begin_s),
        (1, GapCause::Deleted, 0.0)
    );
    let all_s = at as f64 / f64::from(RATE);
    assert!(
        (sound_s(&shelf, 1) + gaps[0].length_s.unwrap() - all_s).abs() < 1e-6,
        "{gaps:?}"
    );
    assert!(evening.sound_s < all_s, "what was deleted does not count");
    // What the archive lost is copied again from what there is.
    assert_eq!(evening.readings[0].copied_s, 0.0);
}

#[test]
fn a_wrong_clock_deletes_nothing_of_tonight() {
    let folder = tempfile::tempdir().unwrap();
    let small = |limit| KeepSettings {
        sound_bytes: limit,
        segment_s: 1.0,
        ..settings()
    };
    let last = KeepSettings {
        segment_s: 1.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), last).unwrap();
    give(&keeper, &ramp(0, 32_000));
    keeper.finish().unwrap();
    // The clock of a machine whose battery is flat; tonight alone takes more than its room.
    let tonight = evening_at("1970-01-01T00:00:12Z[UTC]");
    let keeper = Keeper::begin(folder.path(), tonight, small(80_000)).unwrap();
    for second in 0..8 {
        give(&keeper, &ramp(second * 8_000, 8_000));
        std::thread::sleep(Duration::from_millis(250));
    }
    let notices = std::cell::RefCell::new(Vec::new());
    let more = |n: &KeepNotice| {
        notices.borrow_mut().push(n.clone());
        matches!(n, KeepNotice::MoreThanItsRoom { .. })
    };
    wait_for(&keeper, more);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!((sound_s(&shelf, 1), sound_s(&shelf, 2)), (0.0, 8.0));
    // The next evening makes room by number: tonight's goes then, the latest stays.
    let keeper = Keeper::begin(folder.path(), evening(), small(100_000)).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    std::thread::sleep(Duration::from_millis(1_200));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(sound_s(&shelf, 3), 2.0);
    assert!(sound_s(&shelf, 2) < 8.0);
}

#[test]
fn a_step_of_the_clock_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 12_000));
    keeper.clock_step(86_400.0);
    give(&keeper, &ramp(12_000, 4_000));
    keeper.finish().unwrap();
    let evening = Shelf::open(folder.path()).unwrap().evening(1).unwrap();
    let steps: Vec<_> = evening
        .clock_steps
        .iter()
        .map(|step| (step.at_s, step.by_s))
        .collect();
    assert_eq!(steps, [(1.5, 86_400.0)]);
}

/// A pipe in the place of a file is waited for without end by who opens it.
#[cfg(unix)]
#[test]
fn a_pipe_hangs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let sound = folder.path().join("sound/2026-03-20-190000Z");
    let pipe = |path: PathBuf| {
        let _ = std::fs::remove_file(&path);
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        assert!(made.unwrap().success());
    };
    pipe(sound.join("0001-190000Z.wav"));
    pipe(sound.join("0002-190000Z.wav"));
    pipe(sound.join("being-kept"));
    pipe(sound.join("evening.jsonl"));
    let (tell, told) = std::sync::mpsc::channel();
    let place = folder.path().to_path_buf();
    std::thread::spawn(move || {
        let archive = rusqlite::Connection::open(archive(&place)).unwrap();
        archive
            .execute_batch("UPDATE evenings SET end_ms = NULL")
            .unwrap();
        drop(archive);
        let shelf = Shelf::open(&place).unwrap();
        let unsound = shelf.check().unwrap().unsound;
        drop(shelf);
        keep(&place, "2026-03-21T19:00:00Z[UTC]", "DRY MARSH");
        tell.send(unsound).unwrap();
        // A pipe in the place of the archive.
        let file = place.join(FILE);
        std::fs::remove_file(&file).unwrap();
        assert!(
            std::process::Command::new("mkfifo")
                .arg(&file)
                .status()
                .unwrap()
                .success()
        );
        assert!(Shelf::open(&place).is_err());
        keep(&place, "2026-03-22T19:00:00Z[UTC]", "MARSH");
        tell.send(Vec::new()).unwrap();
    });
    let unsound = told
        .recv_timeout(Duration::from_secs(30))
        .expect("it does not hang");
    assert_eq!(unsound[0].1, "it is no plain file");
    told.recv_timeout(Duration::from_secs(30))
        .expect("it does not hang");
}

#[test]
fn a_check_reads_the_sound_and_keeps_to_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let shelf = Shelf::open(folder.path()).unwrap();
    assert!(shelf.check().unwrap().is_well());
    let path = shelf.sound(1).unwrap().remove(0).1;
    let whole = std::fs::read(&path).unwrap();
    std::fs::write(&path, &whole[..whole.len() - 2_000]).unwrap();
    let unsound = shelf.check().unwrap().unsound;
    assert!(
        unsound[0].1.contains("1000 samples are missing"),
        "{unsound:?}"
    );
    std::fs::write(&path, b"Dear friends of the marsh, it rains").unwrap();
    let unsound = shelf.check().unwrap().unsound;
    assert!(unsound[0].1.contains("not a sound file"), "{unsound:?}");
    drop(shelf);
    // An archive that names files elsewhere, to be read or to be removed.
    let outside = folder.path().join("letter.wav");
    std::fs::write(&outside, &whole).unwrap();
    let other = rusqlite::Connection::open(archive(folder.path())).unwrap();
    other
        .execute_batch("UPDATE segments SET file = '../../letter.wav'")
        .unwrap();
    drop(other);
    let shelf = Shelf::open(folder.path()).unwrap();
    let checked = shelf.check().unwrap();
    assert_eq!(checked.astray, ["2026-03-20-190000Z/../../letter.wav"]);
    assert!(shelf.sound(1).unwrap().is_empty());
    drop(shelf);
    let small = KeepSettings {
        sound_bytes: 10_000,
        segment_s: 1.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), small).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    keeper.finish().unwrap();
    assert!(outside.exists());
}

#[test]
fn an_archive_without_a_byte_is_said_to_be_one() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(archive(folder.path()), b"").unwrap();
    let error = Shelf::open(folder.path())
        .err()
        .expect("it is none")
        .to_string();
    assert!(error.contains("it is empty, not one byte"), "{error}");
    assert_eq!(std::fs::read(archive(folder.path())).unwrap(), b"");
}

/// A crash costs no copy: what was not copied is copied again by itself at the next start.
#[test]
fn the_end_that_a_crash_cost_is_copied_again() {
    use common::sending::{scene, sound};
    use markhold_air::Scene;
    use markhold_event::Event;
    use markhold_receive::{Receiver, Settings};
    let text = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB ".repeat(5);
    let scene = Scene {
        silence_after_s: 2.0,
        ..scene(&text)
    };
    let sound = sound(scene, RATE);
    let (mut all, mut receiver) = (
        Vec::new(),
        Receiver::new(f64::from(RATE), Settings::default()).unwrap(),
    );
    // Events, and how much sound the receiver had heard then, s.
    for (k, block) in (1..).zip(sound.chunks(800)) {
        receiver.process(block, &mut |event| all.push((f64::from(k) * 0.1, event)));
    }
    receiver.finish(&mut |event| all.push((1e9, event)));
    let printed = |events: &[Event]| -> String {
        let symbols = events.iter().filter_map(|event| match event {
            Event::Character(c) => c.symbol.text(),
            _ => None,
        });
        symbols.collect()
    };
    let whole = printed(
        &all.iter()
            .map(|(_, event)| event.clone())
            .collect::<Vec<_>>(),
    );
    // The last copy reached the archive then: never, soon after the find, late.
    for copied_s in [0.0, 17.0, 30.0, 44.0] {
        let folder = tempfile::tempdir().unwrap();
        let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
        give(&keeper, &sound);
        let told = all.iter().take_while(|(heard_s, _)| *heard_s <= copied_s);
        told.for_each(|(_, event)| keeper.event(event));
        keeper.copied(copied_s);
        keeper.finish().unwrap();
        // The computer was switched off in the middle of copying again, many a time.
        let archive = rusqlite::Connection::open(folder.path().join("markhold.sqlite")).unwrap();
        let begun = archive.execute("UPDATE readings SET tries = 29", ());
        assert_eq!(begun.unwrap(), 1);
        drop(archive);
        let caring = KeepSettings {
            care: true,
            ..settings()
        };
        let next = Keeper::begin(folder.path(), evening(), caring).unwrap();
        next.sound(&[0.0; 160]);
        wait_for(&next, |n| {
            matches!(n, KeepNotice::CopiedAgain { evening: 1, .. })
        });
        next.finish().unwrap();
        let shelf = Shelf::open(folder.path()).unwrap();
        let about = shelf.evening(1).unwrap();
        let best = about.best_reading().unwrap();
        assert!(!best.live && best.again_from_s.is_some(), "{best:?}");
        assert!(best.again_from_s <= Some(copied_s), "{best:?}");
        let mut events = Vec::new();
        shelf
            .events(best.id, &mut |event| events.push(event))
            .unwrap();
        assert_eq!(printed(&events), whole, "{copied_s}");
        assert_eq!(best.signals, 1);
        assert!(about.readings[0].live, "the live reading stays");
    }
}
