//! One identity for all readings of a character.
//!
//! A character is read early, decided some seconds later, and perhaps read again another
//! day; the readings place its start a few milliseconds apart. The first one gives it its
//! id, and [`Names`] finds it again for all later ones. This is the only place where
//! readings are matched by time.
//!
//! Ids count hundredths of a second from the first sample of the receiver that read it first
//! to the start. Counted so they come in the order of the starts, a character that only the
//! decided reading sees finds a place between its neighbours, and readings that were kept
//! without ids get theirs from their starts. An id is a name, not a time: it stays the same
//! where times are counted from another origin.

use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Names one character among those of its signal, in the order of their starts.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct CharacterId(pub u32);

impl CharacterId {
    /// Ids in a second. Characters of one signal begin at least six elements apart, 54 ms at
    /// 110 baud, so none shares its hundredth with another.
    pub const PER_SECOND: f64 = 100.0;

    /// The id of a character that nobody read before, by its start, s.
    pub fn of_start(start_s: f64) -> Self {
        // A cast of what is below 0 or no number gives 0.
        Self((start_s * Self::PER_SECOND).round() as u32)
    }
}

/// Starts of two readings of one character lie nearer than this, elements. Those of two
/// characters lie at least six apart, so half of that tells them apart in any case: a start,
/// five code elements, and the next start is never looked for within them.
const SAME_ELEMENTS: f64 = 3.0;

/// Gives the characters of one signal their ids.
#[derive(Clone, Debug, Default)]
pub struct Names {
    /// Readings that have no decided one yet, in order: where they start, s, and their ids.
    ahead: VecDeque<(f64, CharacterId)>,
    /// The latest decided one.
    decided: Option<(f64, CharacterId)>,
    /// How far the ids of an earlier reading lie above those that its starts would give.
    above: i64,
}

impl Names {
    /// Of a signal that was read before: these characters, each with its start, s, in order.
    pub fn of_reading(characters: impl IntoIterator<Item = (f64, CharacterId)>) -> Self {
        let ahead: VecDeque<_> = characters.into_iter().collect();
        let by_start = |start_s| i64::from(CharacterId::of_start(start_s).0);
        let above = ahead
            .front()
            .map(|(start_s, id)| i64::from(id.0) - by_start(*start_s));
        Self {
            ahead,
            decided: None,
            above: above.unwrap_or(0),
        }
    }

    /// Names a character by its early reading, which starts at `start_s`, in a signal with
    /// elements of `element_s`. `None` if it, or one after it, is decided already: then an
    /// early reading says nothing more.
    pub fn early(&mut self, start_s: f64, element_s: f64) -> Option<CharacterId> {
        let same_s = SAME_ELEMENTS * element_s;
        if self
            .decided
            .is_some_and(|(at_s, _)| start_s < at_s + same_s)
        {
            return None;
        }
        if let Some(id) = self.known(start_s, same_s) {
            return Some(id);
        }
        let id = self.new_id(start_s);
        let place = self.ahead.partition_point(|(at_s, _)| *at_s < start_s);
        self.ahead.insert(place, (start_s, id));
        Some(id)
    }

    /// Names a character by its decided reading: as its early one, if there was any. Decided
    /// characters come in order of their starts.
    pub fn decided(&mut self, start_s: f64, element_s: f64) -> CharacterId {
        let known = self.known(start_s, SAME_ELEMENTS * element_s);
        let id = known.unwrap_or_else(|| self.new_id(start_s));
        self.ahead.retain(|(_, other)| *other > id);
        self.decided = Some((start_s, id));
        id
    }

    /// When the latest decided character began, s.
    pub fn decided_s(&self) -> Option<f64> {
        self.decided.map(|(start_s, _)| start_s)
    }

    /// The nearest reading that is of the same character.
    fn known(&self, start_s: f64, same_s: f64) -> Option<CharacterId> {
        let off_s = |(at_s, _): &&(f64, CharacterId)| (at_s - start_s).abs();
        let near = self.ahead.iter().filter(|known| off_s(known) < same_s);
        let nearest = near.min_by(|a, b| off_s(a).total_cmp(&off_s(b)));
        nearest.map(|(_, id)| *id)
    }

    /// An id by the start, above all that are decided.
    fn new_id(&self, start_s: f64) -> CharacterId {
        let least = self.decided.map_or(0, |(_, id)| id.0.saturating_add(1));
        let by_start = i64::from(CharacterId::of_start(start_s).0) + self.above;
        CharacterId((by_start.clamp(0, i64::from(u32::MAX)) as u32).max(least))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_decided_reading_has_the_id_of_the_early_one() {
        let mut names = Names::default();
        let early = [1.000, 1.165, 1.330].map(|s| names.early(s, 0.022));
        assert_eq!(early, [100, 117, 133].map(|id| Some(CharacterId(id))));
        assert_eq!(names.decided(1.012, 0.022), CharacterId(100));
        // The early one at 1.165 was an error: the next decided one says so.
        assert_eq!(names.decided(1.318, 0.022), CharacterId(133));
        assert_eq!(names.early(1.165, 0.022), None);
        assert_eq!(names.decided(1.483, 0.022), CharacterId(148));
    }

    #[test]
    fn what_only_the_decided_reading_sees_finds_its_place() {
        let mut names = Names::default();
        let [a, c] = [1.0, 1.33].map(|s| names.early(s, 0.022).expect("not decided"));
        assert_eq!(names.decided(1.0, 0.022), a);
        let b = names.decided(1.166, 0.022);
        assert!(a < b && b < c);
        assert_eq!(names.decided(1.33, 0.022), c);
    }

    #[test]
    fn a_signal_read_again_has_the_ids_it_had() {
        let first = [(1.0, CharacterId(101)), (1.165, CharacterId(117))];
        let mut names = Names::of_reading(first);
        assert_eq!(names.decided(0.8, 0.022), CharacterId(81));
        assert_eq!(names.decided(0.99, 0.022), CharacterId(101));
        assert_eq!(names.decided(1.17, 0.022), CharacterId(117));
        assert_eq!(names.decided(1.34, 0.022), CharacterId(135));
    }

    #[test]
    fn ids_of_another_origin_go_on_as_they_were() {
        let mut names = Names::of_reading([(61.0, CharacterId(100))]);
        assert_eq!(names.decided(60.8, 0.022), CharacterId(80));
        assert_eq!(names.decided(61.0, 0.022), CharacterId(100));
        assert_eq!(names.decided(61.165, 0.022), CharacterId(117));
        assert_eq!(CharacterId::of_start(-0.01), CharacterId(0));
    }

    /// Characters at any rate, some seen by one reading only, the two a few elements apart.
    fn readings() -> impl Strategy<Value = (f64, Vec<(f64, f64, u8)>)> {
        let character = (7.0..12.0f64, -0.45..0.45f64, 0u8..8);
        let all = proptest::collection::vec(character, 1..80);
        (40.0..110.0f64, all).prop_map(|(rate_baud, all)| {
            let element_s = 1.0 / rate_baud;
            let mut start_s = 0.3;
            let place = |(units, off, kind): (f64, f64, u8)| {
                start_s += units * element_s;
                (start_s, start_s + off * element_s, kind)
            };
            (element_s, all.into_iter().map(place).collect())
        })
    }

    proptest! {
        /// Ids are told once each, in order, and both readings of a character have one.
        #[test]
        fn both_readings_share_an_id((element_s, all) in readings()) {
            let mut names = Names::default();
            let early: Vec<Option<CharacterId>> = all
                .iter()
                .map(|(start_s, _, kind)| {
                    (*kind != 0).then(|| names.early(*start_s, element_s)).flatten()
                })
                .collect();
            let mut last = None;
            for ((_, start_s, kind), early) in all.iter().zip(&early) {
                if *kind == 1 {
                    continue;
                }
                let id = names.decided(*start_s, element_s);
                prop_assert!(early.is_none_or(|e| e == id));
                prop_assert!(last.is_none_or(|l| l < id));
                last = Some(id);
            }
        }
    }
}
