//! Skeds kept while nobody is in the room: which runs are open, and what is to be done now.
//!
//! [`Watch::look`] is called at least every half minute with what the computer's clock says.
//! Everything is worked out anew from that: no timer runs, so a clock that is set, a computer
//! that slept and a program that was started again need nothing of their own.
//!
//! ```text
//!   begins - early                ends           last heard + quiet       ends + overrun
//!        |------ listened to ------|------ while it is heard ------|-----------|
//!        opens                     never heard: ends + late, then missed
//! ```
//!
//! * Several skeds at once are open together, in one evening: what is heard goes to the run it
//!   fits. A signal belongs to one run.
//! * A run is told with every change ([`Order::Entry`]); who keeps those can go on with them
//!   after a restart. Times at which nobody looked are entered as missed, with that cause.

mod run;

pub use run::{Heard, Held, Run, RunState};

use crate::{Sked, SkedError};
use jiff::tz::TimeZoneDatabase;
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};

/// How long is waited for a sender.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waits {
    /// Listening begins so long before a sked: the sender's clock and ours may differ, and the
    /// beginning of a copy is worth more than five minutes of noise.
    pub early: SignedDuration,
    /// A sender that is late is waited for so long beyond the usual end.
    pub late: SignedDuration,
    /// A sked that is over its time ends when it was not heard for so long: pauses between
    /// messages are shorter (common practice).
    pub quiet: SignedDuration,
    /// No sked is listened to for longer than this beyond its end.
    pub overrun: SignedDuration,
}

impl Default for Waits {
    fn default() -> Self {
        Waits {
            early: SignedDuration::from_mins(5),
            late: SignedDuration::from_mins(15),
            quiet: SignedDuration::from_mins(5),
            overrun: SignedDuration::from_hours(3),
        }
    }
}

/// Between two looks farther apart than this nobody looked: three times the half minute.
const ASLEEP: SignedDuration = SignedDuration::from_secs(90);
/// What was due earlier than this before now is not entered as missed any more.
const REMEMBERED: SignedDuration = SignedDuration::from_hours(31 * 24);
/// What a crash broke off is copied again within this: behind everything else, on a computer that may
/// be on for an hour a day.
const RECOPIED: SignedDuration = SignedDuration::from_hours(8 * 24);
/// Most times of one sked looked at in one go.
const MOST: usize = 1000;

/// What is known of the room.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct World {
    /// The number of the evening that is being kept, if one is.
    pub evening: Option<i64>,
    /// The signals of that evening.
    pub signals: Vec<Heard>,
    /// Those of earlier evenings that open runs are in, such as one that a crash broke off, and of
    /// such as are [unsettled](Watch::unsettled), by the evening's number.
    pub earlier: Vec<(i64, Vec<Heard>)>,
    /// Why nothing is heard or kept now: device in use, disk full.
    pub trouble: Option<String>,
}

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Order {
    /// An evening is to begin.
    Begin,
    /// The evening that was begun for skeds may end.
    End,
    /// A run is new or has changed: it is to be kept.
    Entry(Box<Run>),
}

/// The state machine.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    waits: Waits,
    runs: BTreeMap<(i64, Timestamp), Run>,
    /// When it last looked.
    looked: Option<Timestamp>,
    /// The evening that runs was begun here.
    began: bool,
}

impl Watch {
    /// Goes on after a restart, with the entries kept and when it last looked. An evening that
    /// was begun then is over.
    pub fn resume(waits: Waits, entries: Vec<Run>, looked: Option<Timestamp>) -> Self {
        let runs = entries.into_iter().map(|run| ((run.sked, run.begins), run));
        Watch {
            waits,
            runs: runs.collect(),
            looked,
            began: false,
        }
    }

    /// When it last looked.
    pub fn looked(&self) -> Option<Timestamp> {
        self.looked
    }

    /// The runs that are open.
    pub fn open(&self) -> impl Iterator<Item = &Run> + Clone {
        self.runs.values().filter(|run| run.state == RunState::Open)
    }

    /// The evenings that open runs are in.
    pub fn evenings(&self) -> BTreeSet<i64> {
        let evenings = self.open().flat_map(|run| &run.kept_in);
        evenings.map(|(evening, _)| *evening).collect()
    }

    /// Evenings of runs that are over in which nothing of them was found: a crash may have broken one
    /// off, and more is found when its sound was copied again.
    pub fn unsettled(&self, now: Timestamp) -> BTreeSet<i64> {
        let oldest = later(now, -RECOPIED);
        let over = |run: &&Run| run.state != RunState::Open && run.ends > oldest;
        let parts = self.runs.values().filter(over).flat_map(|run| &run.kept_in);
        let empty = parts.filter(|(_, signals)| signals.is_empty());
        empty.map(|(evening, _)| *evening).collect()
    }

    /// What all runs that are open are held to.
    pub fn held(&self) -> Held {
        let held = self.open().map(|run| run.held);
        held.reduce(Held::common).unwrap_or_default()
    }

    /// Looks at the clock and the room, and says what is to be done, in this order. Skeds that
    /// cannot be reckoned with are told and left out.
    pub fn look(
        &mut self,
        now: Timestamp,
        skeds: &BTreeMap<i64, Sked>,
        zones: &TimeZoneDatabase,
        world: &World,
    ) -> (Vec<Order>, Vec<(i64, SkedError)>) {
        let before: BTreeMap<_, _> = self.runs.clone();
        self.set_back(now);
        let wrong = self.open_due(now, skeds, zones);
        self.hear(world);
        self.close(now, world);
        let changed = |(key, run): (&(i64, Timestamp), &Run)| {
            (before.get(key) != Some(run)).then(|| Order::Entry(Box::new(run.clone())))
        };
        let mut orders: Vec<Order> = self.runs.iter().filter_map(changed).collect();
        self.room(now, world, &mut orders);
        let kept = now.saturating_sub(REMEMBERED).unwrap_or(Timestamp::MIN);
        self.runs
            .retain(|_, run| run.state == RunState::Open || run.ends > kept);
        self.looked = Some(now);
        (orders, wrong)
    }

    /// A clock that was set back makes undone what was called missed before its time.
    fn set_back(&mut self, now: Timestamp) {
        if self.looked.is_some_and(|looked| now < looked) {
            let undone = |run: &Run| run.state == RunState::Missed && run.ends > now;
            for run in self.runs.values_mut().filter(|run| undone(run)) {
                run.state = RunState::Open;
                run.cause.clear();
            }
        }
    }

    /// Runs whose time has come, and those that went by while nobody looked.
    fn open_due(
        &mut self,
        now: Timestamp,
        skeds: &BTreeMap<i64, Sked>,
        zones: &TimeZoneDatabase,
    ) -> Vec<(i64, SkedError)> {
        let mut wrong = Vec::new();
        let oldest = later(now, -REMEMBERED);
        let since = self.looked.unwrap_or(now).clamp(oldest, now);
        for (id, sked) in skeds {
            let from = later(since, -(sked.length() + self.waits.late));
            match sked
                .when
                .occurrences(zones, (from, later(now, self.waits.early)), MOST)
            {
                Ok(times) => times
                    .into_iter()
                    .for_each(|begins| self.open_one(*id, sked, begins)),
                Err(error) => wrong.push((*id, error)),
            }
        }
        let asleep = self
            .looked
            .filter(|looked| now.duration_since(*looked) > ASLEEP);
        let (waits, open) = self.open_mut();
        for run in open {
            if let Some(looked) = asleep {
                run.slept(looked, now, waits);
            }
        }
        wrong
    }

    fn open_one(&mut self, id: i64, sked: &Sked, begins: Timestamp) {
        let run = || Run::new(id, sked, begins);
        self.runs.entry((id, begins)).or_insert_with(run);
    }

    fn hear(&mut self, world: &World) {
        self.open_mut()
            .1
            .for_each(|run| run.heard_for = SignedDuration::ZERO);
        for (evening, signals) in &world.earlier {
            self.assign(*evening, signals);
            self.find_late(*evening, signals);
        }
        if let Some(evening) = world.evening {
            self.open_mut().1.for_each(|run| run.goes_on_in(evening));
            self.assign(evening, &world.signals);
            return;
        }
        // An evening may get its number late. What is heard meanwhile belongs nowhere yet.
        for heard in &world.signals {
            if let Some(run) = self.nearest(heard) {
                run.add(heard);
            }
        }
    }

    /// The open run that fits best what is heard: one in whose time it began, then one that has
    /// nothing yet, of those the one whose begin is nearest.
    fn nearest(&mut self, heard: &Heard) -> Option<&mut Run> {
        let (waits, open) = self.open_mut();
        open.filter(|run| run.fits(heard, waits)).min_by_key(|run| {
            let inside = (run.begins..run.ends).contains(&heard.first);
            let off = heard.first.duration_since(run.begins).abs();
            (!inside, run.last_heard.is_some(), off)
        })
    }

    /// Each signal goes to one open run: to its own of before, or to the nearest that it fits.
    fn assign(&mut self, evening: i64, signals: &[Heard]) {
        for heard in signals {
            let has = |run: &&Run| heard.signal.is_some_and(|s| run.has(evening, s));
            let owner = self.runs.values().find(has);
            let owner = owner.map(|run| (run.sked, run.begins));
            if let Some(run) = owner.and_then(|name| self.of_it_now(name, heard)) {
                run.hear(evening, heard);
                continue;
            }
            if let Some(run) = self.nearest(heard) {
                run.hear(evening, heard);
            }
        }
    }

    /// Signals that belong to nobody go to the run that was over before they were found, and that
    /// has nothing in this evening.
    fn find_late(&mut self, evening: i64, signals: &[Heard]) {
        for heard in signals {
            let Some(signal) = heard.signal else { continue };
            if self.runs.values().any(|run| run.has(evening, signal)) {
                continue;
            }
            let waits = &self.waits;
            let over = self
                .runs
                .values_mut()
                .filter(|run| run.state != RunState::Open);
            let fits = over.filter(|run| run.misses(evening, heard, waits));
            let nearest = fits.min_by_key(|run| heard.first.duration_since(run.begins).abs());
            if let Some(run) = nearest {
                run.found_late(evening, heard);
            }
        }
    }

    /// The run that a signal of this one belongs to: itself, or, where that is over, the one that is
    /// open at a later time of the same sked. So a sender who never stops is there at each of them.
    fn of_it_now(&mut self, name: (i64, Timestamp), heard: &Heard) -> Option<&mut Run> {
        let is_over = self.runs.get(&name)?.state != RunState::Open;
        let next = |run: &Run| {
            run.sked == name.0 && run.state == RunState::Open && heard.last >= run.begins
        };
        let next = self.runs.values().find(|run| is_over && next(run));
        let now = next.map_or(name, |run| (run.sked, run.begins));
        self.runs.get_mut(&now)
    }

    fn open_mut(&mut self) -> (&Waits, impl Iterator<Item = &mut Run>) {
        let open = self.runs.values_mut();
        (&self.waits, open.filter(|run| run.state == RunState::Open))
    }

    fn close(&mut self, now: Timestamp, world: &World) {
        let (waits, open) = self.open_mut();
        for run in open {
            let comes = now < run.opens(waits);
            if let (Some(trouble), false) = (&world.trouble, comes) {
                run.trouble(trouble);
            }
            if now >= run.until(waits) {
                run.close(&world.signals);
            }
        }
    }

    /// Begins and ends the evening.
    fn room(&mut self, now: Timestamp, world: &World, orders: &mut Vec<Order>) {
        let due = |run: &Run| now >= run.opens(&self.waits);
        let open = self.open().any(due);
        match (open, world.evening) {
            (true, None) => {
                self.began = true;
                orders.push(Order::Begin);
            }
            // Also where no sound came and it has no number yet: else it would go on for ever.
            (false, _) if self.began => {
                self.began = false;
                orders.push(Order::End);
            }
            _ => {}
        }
    }
}

/// So much later, as far as time goes.
fn later(at: Timestamp, by: SignedDuration) -> Timestamp {
    at.saturating_add(by).unwrap_or(at)
}
