//! Skeds and what was found of the dial, on the shelf.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::fixture;
use markhold_shelf::{PrintState, Shelf, ShelfError, SkedPrint};
use markhold_skeds::learned::{Found, FoundEvening, Stands, ToldBy};
use markhold_skeds::watch::{Held, Run, RunState};
use markhold_skeds::{Channel, Figure, Sked, When};

fn sked(name: &str) -> Sked {
    Sked {
        station: "Q1LMC".into(),
        name: name.into(),
        sends: "club news".into(),
        channels: vec![Channel {
            khz: 3595.2,
            means: Figure::Mark,
        }],
        shift_hz: Some(170.0),
        rate_baud: None,
        mark: None,
        when: When {
            zone: "Europe/London".into(),
            first: "2026-01-04T20:00:00".parse().unwrap(),
            rules: vec!["FREQ=WEEKLY".into()],
            except: vec!["2026-12-27".parse().unwrap()],
            also: vec![],
        },
        length_min: 20.0,
        place: String::new(),
        notes: String::new(),
        print_on: String::new(),
    }
}

#[test]
fn skeds_are_kept_changed_and_removed() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    assert!(shelf.skeds().unwrap().is_empty());
    let one = shelf.add_sked(&sked("one")).unwrap();
    let more = shelf.add_skeds(&[sked("two"), sked("three")]).unwrap();
    shelf.change_sked(one, &sked("first")).unwrap();
    assert_eq!(shelf.remove_sked(more[1]).unwrap(), sked("three"));
    drop(shelf);
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let kept: Vec<_> = shelf.skeds().unwrap().into_iter().collect();
    assert_eq!(kept, [(one, sked("first")), (more[0], sked("two"))]);
    // A number is never given again.
    assert!(shelf.add_sked(&sked("four")).unwrap() > more[1]);
    for error in [
        shelf.sked(99).unwrap_err(),
        shelf.change_sked(99, &sked("none")).unwrap_err(),
        shelf.remove_sked(99).unwrap_err(),
    ] {
        assert!(matches!(error, ShelfError::NoSked { id: 99 }), "{error}");
    }
}

#[test]
fn what_was_found_of_the_dial_comes_back_by_evening() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    let found = |minutes_on, reads_high_hz| Found {
        minutes_on,
        reads_high_hz,
    };
    let at = |text: &str| text.parse().unwrap();
    for (time, night, band, what) in [
        ("2026-03-02T20:00:00Z", "b", 3, found(Some(5.0), -500.0)),
        ("2026-03-01T20:00:00Z", "a", 3, found(Some(5.0), -610.0)),
        ("2026-03-01T20:10:00Z", "a", 7, found(None, 40.0)),
        ("2026-03-01T20:20:00Z", "a", 3, found(Some(25.0), -600.0)),
    ] {
        shelf
            .dial_was_found((at(time), night), (band, what), None)
            .unwrap();
    }
    let evening = |band, found| FoundEvening { band, found };
    assert_eq!(
        shelf.dial_found().unwrap(),
        [
            evening(7, vec![found(None, 40.0)]),
            evening(3, vec![found(Some(5.0), -610.0), found(Some(25.0), -600.0)]),
            evening(3, vec![found(Some(5.0), -500.0)]),
        ]
    );
}

/// What a run told by itself counts once that was kept, and is gone with what undid that.
#[test]
fn what_a_run_told_of_the_dial_counts_once_it_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    let begins = "2026-03-01T20:00:00Z".parse().unwrap();
    let found = |reads_high_hz| Found {
        minutes_on: Some(12.0),
        reads_high_hz,
    };
    for (s, error) in [(60, -610.0), (180, -604.0)] {
        let at = jiff::SignedDuration::from_secs(s);
        let at = begins + at;
        shelf
            .dial_was_found((at, "a"), (3, found(error)), Some((3, begins)))
            .unwrap();
    }
    assert_eq!(shelf.dial_found().unwrap(), []);
    let mut run = run_of(3, begins);
    shelf.keep_run(&run).unwrap();
    assert_eq!(shelf.dial_found().unwrap(), [], "it may be missed yet");
    run.state = RunState::Kept;
    shelf.keep_run(&run).unwrap();
    let evening = FoundEvening {
        band: 3,
        found: vec![found(-610.0), found(-604.0)],
    };
    assert_eq!(shelf.dial_found().unwrap(), [evening]);
    assert_eq!(shelf.band_of(3, begins).unwrap(), Some(3));
    assert_eq!(shelf.band_of(4, begins).unwrap(), None);
}

#[test]
fn where_the_dial_stands_is_forgotten_after_an_evening() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    let at = |text: &str| -> jiff::Timestamp { text.parse().unwrap() };
    let said = |time, khz, by| Stands {
        at: at(time),
        khz,
        on: Some(at("2026-03-01T19:00:00Z")),
        by,
    };
    let first = said("2026-03-01T19:10:00Z", Some(3597.9), ToldBy::Person);
    let second = said("2026-03-01T20:10:00Z", None, ToldBy::Radio);
    assert_eq!(shelf.dial_stands(at("2026-03-01T19:10:00Z")).unwrap(), None);
    for stands in [first, second] {
        shelf.dial_was_set(&stands).unwrap();
    }
    drop(shelf);
    let shelf = Shelf::open(folder.path()).unwrap();
    let stands = |time| shelf.dial_stands(at(time)).unwrap();
    assert_eq!(stands("2026-03-01T19:00:00Z"), None);
    assert_eq!(stands("2026-03-01T19:10:00Z"), Some(first));
    assert_eq!(stands("2026-03-02T02:00:00Z"), Some(second));
    assert_eq!(stands("2026-03-02T12:00:00Z"), None);
}

#[test]
fn papers_come_back_as_they_stood() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    let begins = "2026-03-01T20:00:00Z".parse().unwrap();
    let mut print = SkedPrint {
        sked: 3,
        begins,
        machine: "shack".into(),
        state: PrintState::Waiting,
        why: String::new(),
    };
    shelf.keep_print(&print).unwrap();
    assert_eq!(shelf.waiting_prints().unwrap(), [print.clone()]);
    assert_eq!(print.words(), "waits for shack");
    print.why = "the port is in use".into();
    shelf.keep_print(&print).unwrap();
    assert_eq!(shelf.print_of(3, begins).unwrap(), Some(print.clone()));
    assert_eq!(print.words(), "waits for shack: the port is in use");
    print.state = PrintState::Printed;
    shelf.keep_print(&print).unwrap();
    assert_eq!(shelf.waiting_prints().unwrap(), []);
    assert_eq!(shelf.print_of(4, begins).unwrap(), None);
}

/// An archive of before there were skeds takes them, and loses nothing.
#[test]
fn an_earlier_layout_takes_skeds() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        fixture("layout-1.sqlite"),
        folder.path().join("markhold.sqlite"),
    )
    .unwrap();
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let characters = shelf.evening(1).unwrap().best_reading().unwrap().characters;
    let id = shelf.add_sked(&sked("new")).unwrap();
    drop(shelf);
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.sked(id).unwrap(), sked("new"));
    assert_eq!(
        shelf.evening(1).unwrap().best_reading().unwrap().characters,
        characters
    );
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
}

fn run_of(sked: i64, begins: jiff::Timestamp) -> Run {
    Run {
        sked,
        title: "News".into(),
        begins,
        ends: begins + jiff::SignedDuration::from_mins(20),
        held: Held {
            middle_khz: None,
            shift_hz: Some(170.0),
            rate_baud: None,
            mark: Some(markhold_skeds::MarkOnAir::Lower),
        },
        state: RunState::Open,
        cause: String::new(),
        kept_in: vec![],
        last_heard: None,
        heard_for: jiff::SignedDuration::ZERO,
    }
}

#[test]
fn runs_come_back_as_they_were_last_told() {
    let folder = tempfile::tempdir().unwrap();
    let mut shelf = Shelf::make(folder.path()).unwrap();
    let at = |text: &str| -> jiff::Timestamp { text.parse().unwrap() };
    let mut run = run_of(3, at("2026-03-01T20:00:00Z"));
    shelf.keep_run(&run).unwrap();
    run.state = RunState::Kept;
    run.cause = "begun late".into();
    run.kept_in = vec![(4, vec![1, 2]), (5, vec![])];
    run.last_heard = Some(at("2026-03-01T20:19:00Z"));
    shelf.keep_run(&run).unwrap();
    assert_eq!(shelf.runs(at("2026-03-01T00:00:00Z")).unwrap(), [run]);
    assert_eq!(shelf.runs(at("2026-03-02T00:00:00Z")).unwrap(), []);
    assert_eq!(shelf.last_watched().unwrap(), None);
    for time in ["2026-03-01T20:00:00Z", "2026-03-01T20:00:30Z"] {
        shelf.watched(at(time)).unwrap();
        assert_eq!(shelf.last_watched().unwrap(), Some(at(time)));
    }
}
