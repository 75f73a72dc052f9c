//! A live copy and what was heard again become one reading: a signal is the same one if its
//! characters stand at the same times.

use markhold_event::{Character, CharacterId, Event, SignalId};
use std::collections::BTreeMap;

/// Characters that stand within this are the same one, s: half an element at 45.45 baud.
const SAME_S: f64 = 0.011;

/// Characters in common that make two signals the same one.
const IN_COMMON: usize = 3;

/// Events of a reading in order.
pub(super) struct Joined {
    pub(super) events: Vec<Event>,
    /// From where on they were heard again, s.
    pub(super) seam_s: f64,
}

/// What a reading knows of one of its signals.
#[derive(Default)]
struct Known<'a> {
    characters: Vec<&'a Character>,
    ended: bool,
}

fn signals(events: &[Event]) -> BTreeMap<SignalId, Known<'_>> {
    let mut signals: BTreeMap<SignalId, Known> = BTreeMap::new();
    for event in events {
        match event {
            Event::Found(signal) => {
                signals.entry(signal.id).or_default();
            }
            Event::Character(c) => signals.entry(c.signal).or_default().characters.push(c),
            Event::Ended(signal) => signals.entry(signal.id).or_default().ended = true,
            Event::Early(_) | Event::Unlikely(_) => {}
        }
    }
    signals
}

/// How the signals of what was heard again are those of the live copy.
struct Seams<'a> {
    old: BTreeMap<SignalId, Known<'a>>,
    /// The signal of the live copy that each new one is, and what they have in common.
    same: BTreeMap<SignalId, (SignalId, Common)>,
    /// Until where the live copy of a signal is taken, s.
    until_s: BTreeMap<SignalId, f64>,
}

impl<'a> Seams<'a> {
    fn of(old: &'a [Event], new: &[Event], copied_s: f64) -> Self {
        let old = signals(old);
        let (mut same, mut until_s) = (BTreeMap::new(), BTreeMap::new());
        for (id, signal) in &signals(new) {
            let common = old
                .iter()
                .map(|(id, known)| (*id, in_common(known, signal, copied_s)));
            let best = common.max_by_key(|(_, common)| common.count);
            if let Some((old, common)) = best.filter(|(_, common)| common.count >= IN_COMMON) {
                same.insert(*id, (old, common));
                let until_s = until_s.entry(old).or_insert(common.last_s);
                *until_s = common.last_s.max(*until_s);
            }
        }
        Seams { old, same, until_s }
    }

    fn goes_on(&self, old: SignalId) -> bool {
        self.old.get(&old).is_some_and(|known| !known.ended)
    }

    /// What a new signal is called: the old one that it is, or a new name; `None` if it is left
    /// out, since it ended before, or since only those that were followed are wanted.
    fn name(&self, id: SignalId, all: bool) -> Option<SignalId> {
        if let Some((old, _)) = self.same.get(&id) {
            return self.goes_on(*old).then_some(*old);
        }
        let followed = self.same.values().any(|(old, _)| self.goes_on(*old));
        let highest = self.old.keys().next_back().map_or(0, |id| id.0);
        (all || !followed).then_some(SignalId(highest + id.0))
    }

    /// Whether an event of the live copy is taken, which breaks off at `copied_s`.
    fn takes_old(&self, event: &Event, copied_s: f64) -> bool {
        match event {
            Event::Character(c) | Event::Unlikely(c) => {
                let until_s = self.until_s.get(&c.signal).unwrap_or(&copied_s);
                c.start_s <= until_s + SAME_S
            }
            Event::Found(signal) | Event::Ended(signal) => signal.begin_s <= copied_s,
            Event::Early(_) => false,
        }
    }

    /// An event that was heard again, in the names of the live copy; `None` if it is left out.
    fn new_event(&self, event: Event, all: bool) -> Option<Event> {
        let id = event.signal();
        let name = self.name(id, all)?;
        let placed = |mut c: Character| {
            let until_s = self.until_s.get(&name).unwrap_or(&f64::NEG_INFINITY);
            let above = self.same.get(&id).map_or(0, |(_, common)| common.above);
            let named = (i64::from(c.id.0) + above).clamp(0, i64::from(u32::MAX));
            (c.signal, c.id) = (name, CharacterId(named as u32));
            (c.start_s > until_s + SAME_S).then_some(c)
        };
        match event {
            Event::Character(c) => placed(c).map(Event::Character),
            Event::Unlikely(c) => placed(c).map(Event::Unlikely),
            Event::Found(mut signal) => {
                signal.id = name;
                (!self.old.contains_key(&name)).then_some(Event::Found(signal))
            }
            Event::Ended(mut signal) => {
                signal.id = name;
                Some(Event::Ended(signal))
            }
            Event::Early(_) => None,
        }
    }
}

/// Joins the live copy and what was heard again from before it broke off at `copied_s`; new
/// signals are taken if `all` are wanted, or if none that was followed is heard again.
pub(super) fn join(old: &[Event], new: Vec<Event>, copied_s: f64, all: bool) -> Joined {
    let seams = Seams::of(old, &new, copied_s);
    let kept = old
        .iter()
        .filter(|event| seams.takes_old(event, copied_s))
        .cloned();
    let mut events: Vec<Event> = kept.collect();
    events.extend(
        new.into_iter()
            .filter_map(|event| seams.new_event(event, all)),
    );
    sort(&mut events);
    let seam_s = seams.until_s.values().copied().reduce(f64::min);
    Joined {
        events,
        seam_s: seam_s.unwrap_or(copied_s),
    }
}

/// In order of time; ends come last, since nothing may follow them.
fn sort(events: &mut [Event]) {
    let key = |event: &Event| match event {
        Event::Found(signal) => (0, signal.begin_s),
        Event::Character(c) | Event::Early(c) | Event::Unlikely(c) => (0, c.start_s),
        Event::Ended(signal) => (1, signal.until_s),
    };
    events.sort_by(|a, b| {
        let (a, b) = (key(a), key(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
}

/// What two signals have in common.
#[derive(Clone, Copy, Default)]
struct Common {
    /// Characters.
    count: usize,
    /// Where the last one begins by the old reading, s.
    last_s: f64,
    /// How far its old id lies above the new one: characters after it are named on from there.
    above: i64,
}

/// What two signals have in common until `until_s`.
fn in_common(old: &Known, new: &Known, until_s: f64) -> Common {
    let mut common = Common::default();
    let mut rest = old.characters.as_slice();
    for c in new.characters.iter().take_while(|c| c.start_s <= until_s) {
        let passed = rest
            .iter()
            .take_while(|o| o.start_s < c.start_s - SAME_S)
            .count();
        rest = &rest[passed..];
        if let Some(o) = rest.first()
            && (o.start_s - c.start_s).abs() <= SAME_S
            && o.symbol == c.symbol
        {
            common.count += 1;
            common.last_s = o.start_s;
            common.above = i64::from(o.id.0) - i64::from(c.id.0);
        }
    }
    common
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::characters_from;
    use markhold_event::{Sense, Signal};

    const TEXT: &str =
        "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB AND THE MARSH BEYOND IT";

    fn signal(id: u32, begin_s: f64) -> Signal {
        Signal {
            id: SignalId(id),
            begin_s,
            until_s: begin_s,
            mark_hz: 1275.0,
            space_hz: 1445.0,
            shift_hz: 170.0,
            usual_shift_hz: None,
            rate_baud: 45.45,
            usual_rate_baud: None,
            sense: Sense::LowerTone,
            stop_units: None,
            figures_row: None,
            unshift_on_space: None,
            es_n0_db: 20.0,
            snr_3khz_db: 2.0,
            drift_hz: 0.0,
            drift_hz_per_min: 0.0,
        }
    }

    /// A signal of `TEXT` as it is heard from `from_s` until `until_s`.
    fn heard(id: u32, begin_s: f64, (from_s, until_s): (f64, f64)) -> Vec<Event> {
        let inside = |c: &Character| c.start_s >= from_s && c.start_s < until_s;
        let characters = characters_from(id, begin_s, TEXT)
            .into_iter()
            .filter(inside);
        let found = Event::Found(signal(id, begin_s.max(from_s)));
        std::iter::once(found)
            .chain(characters.map(Event::Character))
            .collect()
    }

    fn texts(events: &[Event]) -> Vec<(u32, String)> {
        let signals = signals(events);
        let text = |known: &Known| {
            known
                .characters
                .iter()
                .filter_map(|c| c.symbol.text())
                .collect()
        };
        signals
            .iter()
            .map(|(id, known)| (id.0, text(known)))
            .collect()
    }

    #[test]
    fn wherever_it_breaks_off_nothing_is_missing_and_nothing_twice() {
        let end_s = 1e9;
        for cut in 0..130 {
            let cut_s = 1.0 + f64::from(cut) * 0.1;
            // The live copy is some seconds behind what the receiver heard.
            for behind_s in [0.0, 4.3, 12.0] {
                let old = heard(1, 1.0, (0.0, cut_s - behind_s));
                let lead_s = (cut_s - 6.0).max(0.0);
                let mut new = heard(1, 1.0, (lead_s, end_s));
                new.push(Event::Ended(signal(1, 1.0)));
                let joined = join(&old, new, cut_s, false);
                let all = texts(&joined.events).into_iter().map(|(_, text)| text);
                let overlaps = cut_s - behind_s > lead_s + 0.6 && old.len() > IN_COMMON + 1;
                match overlaps {
                    true => assert_eq!(all.collect::<Vec<_>>(), [TEXT], "{cut_s} {behind_s}"),
                    // Without a character in common it is another signal; nothing is missing.
                    false => {
                        let text = all.collect::<Vec<_>>().concat();
                        assert!(
                            text.ends_with(&TEXT[TEXT.len() - 20..]),
                            "{cut_s} {behind_s} {text}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_signal_that_ended_and_others_that_nobody_wanted_stay_out() {
        // Signal 1 ended long ago, 2 was followed; both are heard again, and a third one.
        let mut old = heard(1, 1.0, (0.0, 8.0));
        old.push(Event::Ended(signal(1, 1.0)));
        old.extend(heard(2, 3.02, (0.0, 12.0)));
        let mut new = heard(1, 3.02, (4.0, 1e9));
        new.extend(heard(2, 1.0, (4.0, 8.5)));
        new.extend(heard(3, 4.77, (4.0, 1e9)));
        let wanted = texts(&join(&old, new.clone(), 14.0, false).events);
        let first: String = TEXT.chars().take(wanted[0].1.len()).collect();
        assert_eq!(wanted, [(1, first), (2, TEXT.to_string())]);
        let all = texts(&join(&old, new, 14.0, true).events);
        assert_eq!(all.len(), 3);
        assert_eq!(all[2], (5, TEXT.to_string()));
    }

    #[test]
    fn copy_with_a_hole_is_closed() {
        // Sound between 6 and 8 s was left out of the live copy.
        let mut old = heard(1, 1.0, (0.0, 6.0));
        old.extend(heard(1, 1.0, (8.0, 1e9)).into_iter().skip(1));
        let new = heard(4, 1.0, (0.5, 1e9));
        let joined = join(&old, new, 6.0, false);
        assert_eq!(texts(&joined.events), [(1, TEXT.to_string())]);
        assert!(
            joined.seam_s < 6.0 && joined.seam_s > 5.5,
            "{}",
            joined.seam_s
        );
    }
}
