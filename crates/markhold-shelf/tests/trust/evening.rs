//! An evening while the archive or the folder is not to be had.

use super::*;

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

/// What went wrong with the archive for a moment costs none of the copy that it holds: that is not copied again.
#[test]
fn an_archive_that_failed_for_a_moment_holds_what_it_held() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    say(&keeper, "PATIENCE");
    keeper.copied(1.5);
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    let other = rusqlite::Connection::open(archive(folder.path())).unwrap();
    other.busy_timeout(Duration::from_secs(5)).unwrap();
    let rename = |from: &str, to: &str| {
        let change = format!("ALTER TABLE {from} RENAME TO {to}");
        other.execute_batch(&change).unwrap();
    };
    rename("lines", "elsewhere");
    let more = transmission(2, 6.0, "AFTER");
    more.iter().for_each(|event| keeper.event(event));
    let failed = wait_until(&keeper, |state| matches!(state.copy, Kept::No { .. }));
    assert!(failed < Duration::from_secs(6), "{failed:?}");
    rename("elsewhere", "lines");
    wait_until(&keeper, KeepState::is_well);
    keeper.copied(2.0);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    let live = &shelf.evening(1).unwrap().readings[0];
    assert_eq!((live.copied_s, live.characters), (2.0, 13));
    assert_eq!(found(&shelf, "patience"), 1);
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
