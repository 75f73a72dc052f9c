//! Which signals of several receivers are one transmission.

use super::listener::{Listened, Signalled};
use super::timing::own_time;
use crate::event::Sense;
use crate::pair::companion::OwnTime;
use crate::pair::follower::PairStart;

/// Signals of one receiver whose tones lie so near, Hz, are of one transmission, found again.
const AGAIN_HZ: f64 = 40.0;
/// The begin is read from so long before anybody found it, s.
pub(super) const BEFORE_S: f64 = 14.0;

/// One receiver's part in a transmission.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Which receiver, by its place among those given.
    pub receiver: usize,
    /// Its samples a second.
    pub(super) rate_hz: f64,
    /// Its clock by that of the first member.
    pub time: OwnTime,
    /// How its pair is followed from the begin on.
    pub(super) pair: PairStart,
    /// Tones of mark and space, Hz.
    pub tones_hz: [f64; 2],
    /// How much it says by itself, bits.
    pub information: f32,
}

/// What several receivers heard of one transmission.
#[derive(Clone, Debug, PartialEq)]
pub struct Transmission {
    /// Those that heard it, the one that says most first. Only one, if no other did.
    pub members: Vec<Member>,
    /// From when to when it was heard, s of the first member's time.
    pub heard_s: (f64, f64),
}

impl Transmission {
    /// How much all say, bits.
    pub fn information(&self) -> f32 {
        self.members.iter().map(|m| m.information).sum()
    }

    /// Which tone is mark in the first member's sound.
    pub(super) fn mark(&self) -> usize {
        usize::from(self.members[0].pair.mark_hz > self.members[0].pair.space_hz)
    }
}

/// A signal by its receiver and its place among that one's.
type Place = (usize, usize);

/// All transmissions that receivers heard, that of which most is known first. A signal that
/// shares nothing with any other receiver's is one by itself.
pub fn transmissions(heard: &[Listened]) -> Vec<Transmission> {
    let all = heard.iter().enumerate();
    let mut left: Vec<Place> = all
        .flat_map(|(r, h)| (0..h.signals.len()).map(move |s| (r, s)))
        .collect();
    let signal = |p: &Place| &heard[p.0].signals[p.1];
    left.sort_by(|a, b| signal(b).information().total_cmp(&signal(a).information()));
    let mut found = Vec::new();
    while !left.is_empty() {
        let first = left.remove(0);
        let parts = parts(heard, first, &mut left);
        found.push(transmission(heard, parts));
    }
    found.sort_by(|a, b| b.information().total_cmp(&a.information()));
    found
}

/// One receiver's signals in a transmission, and its clock.
struct Part {
    receiver: usize,
    signals: Vec<usize>,
    time: OwnTime,
}

/// All parts of the transmission of one signal; takes them from those that are left.
fn parts(heard: &[Listened], first: Place, left: &mut Vec<Place>) -> Vec<Part> {
    let same = OwnTime {
        at_zero_s: 0.0,
        rate: 1.0,
    };
    let beats = &heard[first.0].signals[first.1].beats;
    let mut parts = vec![Part {
        receiver: first.0,
        signals: vec![first.1],
        time: same,
    }];
    for receiver in (0..heard.len()).filter(|r| *r != first.0) {
        let of = left.iter().filter(|p| p.0 == receiver);
        let timed = |p: &Place| Some((p.1, own_time(beats, &heard[receiver].signals[p.1].beats)?));
        // The signals of which most is known come first.
        if let Some((signal, time)) = of.into_iter().find_map(timed) {
            parts.push(Part {
                receiver,
                signals: vec![signal],
                time,
            });
        }
    }
    let ends = span(heard, &parts);
    for part in &mut parts {
        again(&heard[part.receiver].signals, part, ends, left);
    }
    left.retain(|p| {
        let taken = |part: &Part| part.receiver == p.0 && part.signals.contains(&p.1);
        !parts.iter().any(taken)
    });
    parts
}

/// From when to when parts were heard, s of the first one's time.
fn span(heard: &[Listened], parts: &[Part]) -> (f64, f64) {
    let each = parts.iter().flat_map(|part| {
        let signals = &heard[part.receiver].signals;
        part.signals.iter().map(|s| {
            let (from, to) = signals[*s].heard_s();
            (part.time.back(from), part.time.back(to))
        })
    });
    let both = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
    each.reduce(both).unwrap_or_default()
}

/// Adds signals of the same receiver that were found again after a fade: at the same tones while
/// another receiver heard the transmission.
fn again(signals: &[Signalled], part: &mut Part, ends: (f64, f64), left: &[Place]) {
    let known = &signals[part.signals[0]];
    let ends = (part.time.at(ends.0), part.time.at(ends.1));
    let within = |s: &Signalled| {
        let (from, to) = s.heard_s();
        from > ends.0 - 1.0 && to < ends.1 + 1.0
    };
    let near = |s: &Signalled| {
        let off = |a: f64, b: f64| (a - b).abs() < AGAIN_HZ;
        s.signal.sense == known.signal.sense
            && off(s.signal.mark_hz, known.signal.mark_hz)
            && off(s.signal.space_hz, known.signal.space_hz)
    };
    let more = left.iter().filter(|p| p.0 == part.receiver).map(|p| p.1);
    let more =
        more.filter(|s| !part.signals.contains(s) && within(&signals[*s]) && near(&signals[*s]));
    part.signals.extend(more.collect::<Vec<usize>>());
}

fn transmission(heard: &[Listened], parts: Vec<Part>) -> Transmission {
    let heard_s = span(heard, &parts);
    let begin_s = heard_s.0 - BEFORE_S;
    let member = |part: &Part| {
        let signals = &heard[part.receiver].signals;
        let from_s = part.time.at(begin_s).max(0.0);
        let mut own: Vec<&Signalled> = part.signals.iter().map(|s| &signals[*s]).collect();
        own.sort_by(|a, b| a.heard_s().0.total_cmp(&b.heard_s().0));
        let pair = own[0].pair_at(from_s);
        // Which tone is mark stays what it was found to be.
        let lower = own[0].signal.sense == Sense::LowerTone;
        debug_assert_eq!(lower, pair.mark_hz < pair.space_hz);
        Member {
            receiver: part.receiver,
            rate_hz: heard[part.receiver].rate_hz,
            time: part.time,
            tones_hz: [own[0].signal.mark_hz, own[0].signal.space_hz],
            information: own.iter().map(|s| s.information()).sum(),
            pair,
        }
    };
    Transmission {
        members: parts.iter().map(member).collect(),
        heard_s,
    }
}
