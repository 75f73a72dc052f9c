//! Where a copy does not go with the others.

use super::super::{Joined, KeptCopy};
use crate::certainty;
use markhold_join::Joint;

/// Places that others have and the copy lacks, from which on it is looked again: a word.
const LEAST_LACKING: usize = 3;
/// Characters that it alone has, from which on it is, if they are not rather sure; a sure head of
/// its own is none.
const LEAST_OWN: usize = 6;
/// Rather sure: probability.
const SURE: f64 = 0.8;
/// Sound before the first and after the last character that goes together, at most, s.
const MOST_S: f64 = 120.0;

/// A stretch of a copy's sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// From where, s from the first sample of the evening; after the character that goes together.
    pub from_s: f64,
    /// To where, s; before the next one that does.
    pub until_s: f64,
}

/// The stretches of a copy, in order.
pub fn stretches(joined: &Joined, k: usize) -> Vec<Stretch> {
    let Some(joint) = joined.joints.iter().find(|j| j.copies.contains(&k)) else {
        return Vec::new();
    };
    let side = Side::of(joint, &joined.copies[k], k);
    let shared = side.shared();
    let inner = shared.windows(2).filter_map(|w| side.between(w[0], w[1]));
    let begin = shared.first().and_then(|first| side.before(*first));
    let end = shared.last().and_then(|last| side.after(*last));
    begin.into_iter().chain(inner).chain(end).collect()
}

/// One copy beside the joint copy.
struct Side<'a> {
    joint: &'a Joint,
    copy: &'a KeptCopy,
    k: usize,
    /// From a character's begin to the next one's where there is no pause, s.
    step_s: f64,
}

/// A slot of the copy, and its place in the joint copy.
type Point = (usize, usize);

impl<'a> Side<'a> {
    fn of(joint: &'a Joint, copy: &'a KeptCopy, k: usize) -> Self {
        let step_s = copy.step_s();
        Side {
            joint,
            copy,
            k,
            step_s,
        }
    }

    /// What goes together, in the order of the copy.
    fn shared(&self) -> Vec<Point> {
        let characters = self.joint.characters.iter().enumerate();
        let shared = characters.filter(|(_, c)| c.bearers().count() > 1);
        let mut points: Vec<Point> = shared
            .filter_map(|(place, c)| Some((c.slots[self.k]?, place)))
            .collect();
        points.sort_unstable();
        points
    }

    /// How many places the copy lacks where between these slots and places it is worth hearing again.
    fn worth(
        &self,
        slots: std::ops::Range<usize>,
        places: std::ops::Range<usize>,
    ) -> Option<usize> {
        let lacking = self.lacking(places);
        (lacking >= LEAST_LACKING || self.is_doubtful(slots)).then_some(lacking)
    }

    /// Places that others rather surely have and the copy does not.
    fn lacking(&self, places: std::ops::Range<usize>) -> usize {
        let all = self.joint.characters.get(places).unwrap_or_default();
        let lacks = |c: &&markhold_join::JointCharacter| {
            f64::from(c.probability()) > SURE && c.slots[self.k].is_none()
        };
        all.iter().filter(lacks).count()
    }

    /// Whether slots that nobody else has are worth hearing again.
    fn is_doubtful(&self, slots: std::ops::Range<usize>) -> bool {
        let count = slots.len();
        let sum: f64 = slots.map(|s| certainty::of(self.copy.character(s))).sum();
        count >= LEAST_OWN && sum < (2.0 * SURE - 1.0) * count as f64
    }

    fn start_s(&self, slot: usize) -> f64 {
        self.copy.character(slot).start_s
    }

    fn between(&self, a: Point, b: Point) -> Option<Stretch> {
        // Where the copy has another order nothing lies between the places, and nothing is lacking.
        self.worth(a.0 + 1..b.0, a.1 + 1..b.1)?;
        let stretch = Stretch {
            from_s: self.start_s(a.0) + self.step_s / 2.0,
            until_s: self.start_s(b.0) - self.step_s / 2.0,
        };
        (stretch.until_s > stretch.from_s + self.step_s / 2.0).then_some(stretch)
    }

    fn before(&self, (slot, place): Point) -> Option<Stretch> {
        let lacking = self.worth(0..slot, 0..place)?;
        let until_s = self.start_s(slot) - self.step_s / 2.0;
        let room_s = (lacking as f64 * self.step_s).min(MOST_S);
        let from_s = (until_s - room_s)
            .min(self.start_s(0) - self.step_s)
            .max(0.0);
        (until_s > from_s).then_some(Stretch { from_s, until_s })
    }

    fn after(&self, (slot, place): Point) -> Option<Stretch> {
        let (slots, places) = (self.copy.slots(), self.joint.characters.len());
        let (last, lacking) = (slots - 1, self.worth(slot + 1..slots, place + 1..places)?);
        let from_s = self.start_s(slot) + self.step_s / 2.0;
        let room_s = (lacking as f64 * self.step_s).min(MOST_S);
        let until_s = (from_s + room_s).max(self.start_s(last) + self.step_s);
        Some(Stretch { from_s, until_s })
    }
}
