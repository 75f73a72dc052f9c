//! One sked, and what may become of it.

use super::*;

/// The first signal of an evening, of the usual kind, from when to when, s.
fn heard(first: i64, last: i64) -> Heard {
    Heard {
        signal: Some(1),
        shift_hz: 170.0,
        rate_baud: 45.45,
        mark: None,
        middle_hz: 2210.0,
        middle_khz: None,
        first: at(first),
        last: at(last),
    }
}

fn one_sked() -> (BTreeMap<i64, Sked>, TimeZoneDatabase) {
    (
        BTreeMap::from([(1, sked(1, 3600, 20.0, 170.0))]),
        TimeZoneDatabase::bundled(),
    )
}

/// Looks from `from` to `until` and gives the entry there is in the end.
fn looked(watch: &mut Watch, (from, until): (i64, i64), world: &World) -> Option<Run> {
    let (skeds, zones) = one_sked();
    let mut last = None;
    for now in (from..until).step_by(LOOK as usize) {
        for order in watch.look(at(now), &skeds, &zones, world).0 {
            if let Order::Entry(run) = order {
                last = Some(*run);
            }
        }
    }
    last
}

#[test]
fn a_missed_sked_is_an_entry_with_its_cause() {
    let evening = World {
        evening: Some(1),
        ..World::default()
    };
    let trouble = |why: &str| World {
        trouble: Some(why.into()),
        ..World::default()
    };
    for (world, cause) in [
        (evening.clone(), "nothing that fits was heard"),
        (
            trouble("the sound device is in use by another program"),
            "in use",
        ),
        (trouble("the disk is full"), "disk is full"),
    ] {
        let run = looked(&mut Watch::default(), (0, 2 * 3600), &world).unwrap();
        assert_eq!(run.state, RunState::Missed);
        assert!(run.cause.contains(cause), "{}", run.cause);
    }
}

/// Noise that is taken for a sender just before it does not end the wait for a late one.
#[test]
fn a_moment_of_something_else_ends_no_wait() {
    let heard = |signal, first, last| Heard {
        signal: Some(signal),
        ..heard(first, last)
    };
    let world = |signals| World {
        evening: Some(1),
        signals,
        ..World::default()
    };
    let moment = heard(1, 3590, 3600);
    let mut watch = Watch::default();
    // It is due from 3600 to 4800, and comes at 5400.
    let open = looked(&mut watch, (3300, 5430), &world(vec![moment])).unwrap();
    assert_eq!(open.state, RunState::Open);
    let late = heard(2, 5400, 6600);
    let kept = looked(&mut watch, (6600, 7200), &world(vec![moment, late])).unwrap();
    assert_eq!(
        (kept.state, kept.kept_in),
        (RunState::Kept, vec![(1, vec![1, 2])])
    );
}

/// An archive that was locked gives the evening its number late; what was heard meanwhile is not
/// lost.
#[test]
fn an_evening_without_a_number_yet_is_waited_for() {
    let heard = heard(3600, 4800);
    let world = |evening| World {
        evening,
        signals: vec![heard],
        ..World::default()
    };
    let mut watch = Watch::default();
    let open = looked(&mut watch, (3600, 3 * 3600), &world(None)).unwrap();
    assert_eq!((open.state, open.kept_in.len()), (RunState::Open, 0));
    let kept = looked(&mut watch, (3 * 3600, 3 * 3600 + 60), &world(Some(7))).unwrap();
    assert_eq!(
        (kept.state, kept.kept_in),
        (RunState::Kept, vec![(7, vec![1])])
    );
    let mut never = Watch::default();
    let missed = looked(&mut never, (3600, 6 * 3600), &world(None)).unwrap();
    assert_eq!(missed.state, RunState::Missed);
    assert!(missed.cause.contains("archive"), "{}", missed.cause);
}

/// What is not on the shelf yet counts as heard; it is in the evening once it is there.
#[test]
fn a_signal_is_kept_once_the_shelf_has_it() {
    let heard = |signal| Heard {
        signal,
        ..heard(3600, 4800)
    };
    let world = |signal| World {
        evening: Some(7),
        signals: vec![heard(signal)],
        ..World::default()
    };
    let mut watch = Watch::default();
    let open = looked(&mut watch, (3600, 4900), &world(None)).unwrap();
    assert_eq!(open.kept_in, vec![(7, vec![])]);
    assert_eq!(open.last_heard, Some(at(4800)));
    let kept = looked(&mut watch, (4900, 3 * 3600), &world(Some(2))).unwrap();
    assert_eq!(
        (kept.state, kept.kept_in),
        (RunState::Kept, vec![(7, vec![2])])
    );
}

#[test]
fn a_computer_that_slept_says_so() {
    let evening = World {
        evening: Some(1),
        ..World::default()
    };
    let mut watch = Watch::default();
    assert_eq!(looked(&mut watch, (0, 1800), &evening), None);
    // Asleep until long after.
    let run = looked(&mut watch, (5 * 3600, 5 * 3600 + 60), &evening).unwrap();
    assert_eq!(run.state, RunState::Missed);
    assert!(
        run.cause.contains("slept") && run.cause.contains("from 2026-11-02 00:29"),
        "{}",
        run.cause
    );
    // The same after a restart: what it last looked at is known.
    let mut again = Watch::resume(Waits::default(), vec![], Some(at(1800)));
    let run = looked(&mut again, (5 * 3600, 5 * 3600 + 60), &evening).unwrap();
    assert!(
        run.state == RunState::Missed && run.cause.contains("stopped"),
        "{}",
        run.cause
    );
    // A first start knows of nothing before it.
    assert_eq!(
        looked(&mut Watch::default(), (5 * 3600, 6 * 3600), &evening),
        None
    );
}

/// Set forward by a day and back again: it comes, once.
#[test]
fn a_clock_that_is_set_makes_nothing_twice() {
    let evening = World {
        evening: Some(1),
        ..World::default()
    };
    let mut watch = Watch::default();
    looked(&mut watch, (0, 600), &evening);
    let missed = looked(&mut watch, (86_400, 86_460), &evening).unwrap();
    assert_eq!(missed.state, RunState::Missed);
    let open = looked(&mut watch, (660, 720), &evening).unwrap();
    assert_eq!(open.state, RunState::Open);
    let heard = heard(3600, 4800);
    let world = World {
        signals: vec![heard],
        ..evening.clone()
    };
    let kept = looked(&mut watch, (3700, 2 * 3600), &world).unwrap();
    assert_eq!(
        (kept.state, kept.kept_in),
        (RunState::Kept, vec![(1, vec![1])])
    );
    // Set back once more: what was kept stays kept.
    assert_eq!(looked(&mut watch, (3500, 3 * 3600), &evening), None);
}

#[test]
fn what_does_not_fit_is_not_taken_for_it() {
    let other = |shift_hz, rate_baud| Heard {
        shift_hz,
        rate_baud,
        ..heard(3600, 4800)
    };
    for (heard, state) in [
        (other(850.0, 45.45), RunState::Missed),
        (other(170.0, 75.0), RunState::Missed),
        (other(178.0, 45.8), RunState::Kept),
    ] {
        let world = World {
            evening: Some(1),
            signals: vec![heard],
            ..World::default()
        };
        let run = looked(&mut Watch::default(), (0, 2 * 3600), &world).unwrap();
        assert_eq!(run.state, state, "{heard:?}");
    }
}

/// A sender who never stops is one signal for hours, and there at each time of its sked.
#[test]
fn a_sender_who_never_stops_is_kept_at_each_of_its_times() {
    let mut hourly = sked(1, 3600, 10.0, 170.0);
    hourly.when.rules = vec!["FREQ=HOURLY".into()];
    let skeds = BTreeMap::from([(1, hourly)]);
    let zones = TimeZoneDatabase::bundled();
    let waits = Waits {
        overrun: jiff::SignedDuration::from_mins(5),
        ..Waits::default()
    };
    let mut watch = Watch::resume(waits, vec![], None);
    let mut last = BTreeMap::new();
    for now in (0..4 * 3600).step_by(LOOK as usize) {
        let world = World {
            evening: Some(1),
            signals: vec![heard(0, now)],
            ..World::default()
        };
        for order in watch.look(at(now), &skeds, &zones, &world).0 {
            if let Order::Entry(run) = order {
                last.insert(run.begins, *run);
            }
        }
    }
    let kept: Vec<_> = last
        .values()
        .map(|r| (r.begins, r.state, r.kept_in.clone()))
        .collect();
    let expected = [1, 2, 3].map(|h| (at(3600 * h), RunState::Kept, vec![(1, vec![1])]));
    assert_eq!(kept[..3], expected);
}

/// Where the dial is right, a sender on another frequency is another one, however alike.
#[test]
fn a_like_sender_elsewhere_is_not_taken_for_it() {
    let held = markhold_skeds::watch::Held {
        shift_hz: Some(170.0),
        middle_khz: Some(7041.115),
        ..Default::default()
    };
    let heard = |middle_khz| Heard {
        shift_hz: 171.0,
        middle_khz,
        ..heard(0, 60)
    };
    assert!(held.fits(&heard(None)) && held.fits(&heard(Some(7041.4))));
    assert!(!held.fits(&heard(Some(7045.2))));
}

/// A kill before the first character was on the shelf: the rest is kept in the next evening, and the
/// beginning is found when the sound was copied again, long after the run was over.
#[test]
fn what_is_copied_again_after_a_run_was_over_is_its_own() {
    let begins = 3600;
    let run = |state, kept_in: Vec<(i64, Vec<u32>)>| {
        let evening = World {
            evening: Some(1),
            ..World::default()
        };
        let mut run = looked(&mut Watch::default(), (0, 4000), &evening).unwrap();
        (run.state, run.kept_in) = (state, kept_in);
        run
    };
    let later = 3 * 3600;
    for (state, kept_in, found) in [
        (
            RunState::Kept,
            vec![(1, vec![]), (2, vec![1])],
            vec![(1, vec![1]), (2, vec![1])],
        ),
        (RunState::Missed, vec![(1, vec![])], vec![(1, vec![1])]),
    ] {
        let entries = vec![run(state, kept_in.clone())];
        let mut watch = Watch::resume(Waits::default(), entries, Some(at(later)));
        assert_eq!(
            watch.unsettled(at(later)).into_iter().collect::<Vec<_>>(),
            [1]
        );
        // Something of an hour later is none of it.
        let world = |heard| World {
            earlier: vec![(1, vec![heard])],
            ..World::default()
        };
        let other = world(heard(begins + 7200, begins + 7300));
        assert_eq!(looked(&mut watch, (later, later + 30), &other), None);
        let its_own = world(heard(begins, begins + 20));
        let after = looked(&mut watch, (later + 30, later + 60), &its_own).unwrap();
        assert_eq!((after.state, after.kept_in), (RunState::Kept, found));
        assert!(watch.unsettled(at(later)).is_empty());
        assert_eq!(
            looked(&mut watch, (later + 60, later + 90), &its_own),
            None,
            "once"
        );
    }
}
