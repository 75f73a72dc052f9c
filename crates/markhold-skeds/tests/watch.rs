//! A simulated week: senders that are late, overrun and overlap, restarts and a kill.
#![allow(missing_docs, reason = "tests")]

use jiff::Timestamp;
use jiff::tz::TimeZoneDatabase;
use markhold_skeds::watch::{Heard, Order, Run, RunState, Waits, Watch, World};
use markhold_skeds::{Sked, When};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::collections::BTreeMap;

const MIN: i64 = 60;
/// How often it looks, s.
const LOOK: i64 = 30;

fn at(s: i64) -> Timestamp {
    // Monday, 2 November 2026: the week after the clocks of New York changed is in it.
    Timestamp::from_second(1_793_577_600 + s).unwrap()
}

fn sked(number: i64, begins: i64, length_min: f64, shift: f64) -> Sked {
    Sked {
        station: format!("Q{number}SIM"),
        name: format!("sked {number}"),
        sends: String::new(),
        channels: vec![],
        shift_hz: Some(shift),
        rate_baud: Some(45.45),
        mark: None,
        when: When {
            zone: "UTC".into(),
            first: jiff::tz::TimeZone::UTC.to_datetime(at(begins)),
            rules: vec![],
            except: vec![],
            also: vec![],
        },
        length_min,
        place: String::new(),
        notes: String::new(),
        print_on: String::new(),
    }
}

/// A bulletin as it was sent, s from the beginning of the week.
struct Sent {
    sked: i64,
    from: i64,
    until: i64,
    shift: f64,
}

/// The room: what is kept on the shelf, and what a restart finds there.
#[derive(Default)]
struct Room {
    entries: BTreeMap<(i64, Timestamp), Run>,
    looked: Option<Timestamp>,
    evening: Option<i64>,
    /// Number, from, until.
    evenings: Vec<(i64, i64, i64)>,
    /// The signals of the evening that goes on: which bulletin they are.
    signals: Vec<usize>,
    /// Evening and signal of each bulletin's parts.
    parts: Vec<(usize, i64, u32)>,
}

impl Room {
    fn world(&mut self, now: i64, sent: &[Sent]) -> World {
        let Some(evening) = self.evening else {
            return World::default();
        };
        let begun = self.evenings.last().unwrap().1;
        self.evenings.last_mut().unwrap().2 = now;
        for (k, one) in sent.iter().enumerate() {
            // It takes ten seconds until a signal is found.
            let there = now >= one.from.max(begun) + 10 && one.until > begun;
            if there && !self.signals.contains(&k) {
                self.signals.push(k);
                self.parts.push((k, evening, self.signals.len() as u32));
            }
        }
        let heard = self.signals.iter().enumerate().map(|(number, k)| Heard {
            signal: Some(number as u32 + 1),
            shift_hz: sent[*k].shift * 1.02,
            rate_baud: 45.6,
            mark: None,
            middle_hz: 2210.0,
            middle_khz: None,
            first: at(sent[*k].from.max(begun)),
            last: at(sent[*k].until.min(now)),
        });
        World {
            evening: Some(evening),
            signals: heard.collect(),
            ..World::default()
        }
    }

    fn obey(&mut self, now: i64, orders: Vec<Order>) {
        for order in orders {
            match order {
                Order::Begin => {
                    let number = self.evenings.len() as i64 + 1;
                    self.evenings.push((number, now, now));
                    (self.evening, self.signals) = (Some(number), Vec::new());
                }
                Order::End => self.evening = None,
                Order::Entry(run) => {
                    self.entries.insert((run.sked, run.begins), *run);
                }
            }
        }
        self.looked = Some(at(now));
    }

    fn resumed(&mut self) -> Watch {
        self.evening = None;
        Watch::resume(
            Waits::default(),
            self.entries.values().cloned().collect(),
            self.looked,
        )
    }
}

/// Forty skeds: ten late, five overrunning, three pairs at once with another shift.
fn week(chance: &mut Xoshiro256PlusPlus) -> (BTreeMap<i64, Sked>, Vec<Sent>) {
    let (mut skeds, mut all) = (BTreeMap::new(), Vec::new());
    for number in 0..40i64 {
        let (overlaps, slot) = (
            number >= 37,
            if number >= 37 { number - 37 } else { number },
        );
        let shift = if overlaps { 850.0 } else { 170.0 };
        let begins =
            3 * 3600 + slot * 4 * 3600 + slot * 7 * MIN + if overlaps { 10 * MIN } else { 0 };
        let length = chance.random_range(15..40i64) * MIN;
        let late = if (10..20).contains(&number) {
            chance.random_range(MIN..14 * MIN)
        } else {
            chance.random_range(-4 * MIN..MIN)
        };
        let over = if (20..25).contains(&number) {
            chance.random_range(10 * MIN..100 * MIN)
        } else {
            0
        };
        skeds.insert(number, sked(number, begins, length as f64 / 60.0, shift));
        let from = begins + late;
        all.push(Sent {
            sked: number,
            from,
            until: from + length - 30 + over,
            shift,
        });
    }
    (skeds, all)
}

#[test]
fn every_bulletin_of_a_week_is_kept_whole_under_its_name() {
    for seed in 0..3 {
        let mut chance = Xoshiro256PlusPlus::seed_from_u64(seed);
        let (skeds, sent) = week(&mut chance);
        let zones = TimeZoneDatabase::bundled();
        let (mut room, mut watch) = (Room::default(), Watch::default());
        // Restarts between looks, at any time; the kill in the middle of a bulletin, and three
        // minutes until somebody starts it again.
        let restarts = [
            chance.random_range(0..3 * 86_400),
            chance.random_range(3 * 86_400..7 * 86_400),
        ];
        let killed = &sent[5];
        let kill = (killed.from + killed.until) / 2 / LOOK * LOOK;
        let mut now = 0;
        while now < 7 * 86_400 {
            if restarts.iter().any(|r| (now..now + LOOK).contains(r)) {
                watch = room.resumed();
            }
            if now == kill {
                now += 3 * MIN;
                watch = room.resumed();
            }
            let world = room.world(now, &sent);
            let (orders, wrong) = watch.look(at(now), &skeds, &zones, &world);
            assert!(wrong.is_empty(), "{wrong:?}");
            room.obey(now, orders);
            now += LOOK;
        }
        check(&room, &sent, kill);
    }
}

fn check(room: &Room, sent: &[Sent], kill: i64) {
    assert_eq!(room.entries.len(), sent.len(), "each sked once");
    for (k, one) in sent.iter().enumerate() {
        let run = room
            .entries
            .values()
            .find(|run| run.sked == one.sked)
            .unwrap();
        assert_eq!(run.state, RunState::Kept, "{run:?}");
        // All that was heard of it is under its name, and under no other.
        for (part, evening, signal) in &room.parts {
            let named = run
                .kept_in
                .iter()
                .any(|(e, signals)| e == evening && signals.contains(signal));
            assert_eq!(named, *part == k, "bulletin {k}, part of {part}: {run:?}");
        }
        // Whole: every moment of it lies in an evening, but for the three minutes and two looks.
        let kept = |s: i64| {
            room.evenings
                .iter()
                .any(|(_, from, until)| (*from..=*until).contains(&s))
        };
        let lost: Vec<i64> = (one.from..one.until).filter(|s| !kept(*s)).collect();
        let away = kill - 2 * LOOK..kill + 3 * MIN + 2 * LOOK;
        // A restart ends the evening and begins another at its next look.
        let most = if lost.iter().any(|s| away.contains(s)) {
            3 * MIN + 2 * LOOK
        } else {
            2 * LOOK
        };
        assert!(
            lost.len() as i64 <= most,
            "{} s of bulletin {k} lost",
            lost.len()
        );
    }
    // Nothing is listened to for ever.
    let listened: i64 = room
        .evenings
        .iter()
        .map(|(_, from, until)| until - from)
        .sum();
    assert!(listened < 40 * 3600, "{listened}");
}

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
