//! A week of senders that are late, overrun and overlap, with a kill at any moment.

use super::*;
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

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
