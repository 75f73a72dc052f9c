//! Who the signals of an evening are when its sound is copied again.
//!
//! A signal that an earlier reading knows keeps its number, and its characters their ids, so
//! that both readings speak of the same. What only the later one finds gets numbers and ids
//! of its own.

use super::{KeptSignal, Reading, Shelf, ShelfError};
use markhold_event::{Character, CharacterId, Names, Signal};
use std::collections::BTreeMap;

/// A later reading may find a signal so much before the earlier one did, s: a weak one is
/// found after half a minute and copied from its begin.
const BEFORE_S: f64 = 60.0;

/// A signal's number in the evening, and the ids of its characters.
#[derive(Debug)]
pub(super) struct Named {
    pub(super) number: u32,
    /// Its characters as an earlier reading named them, and the duration of an element, s.
    names: Option<(Names, f64)>,
}

impl Named {
    /// One that no earlier reading knows.
    pub(super) fn new(number: u32) -> Self {
        Named {
            number,
            names: None,
        }
    }

    /// The id of a decided character.
    pub(super) fn id_of(&mut self, character: &Character) -> CharacterId {
        match &mut self.names {
            Some((names, element_s)) => names.decided(character.start_s, *element_s),
            None => character.id,
        }
    }

    /// The id of a reading that is more likely noise.
    pub(super) fn id_of_unlikely(&mut self, character: &Character) -> CharacterId {
        let names = self.names.as_mut();
        let known = names.and_then(|(names, element_s)| names.early(character.start_s, *element_s));
        known.unwrap_or(character.id)
    }
}

/// The signals of an earlier reading that a later one has not met yet.
#[derive(Debug, Default)]
pub(super) struct Earlier {
    signals: Vec<KeptSignal>,
    characters: BTreeMap<u32, Vec<(f64, CharacterId)>>,
    /// Numbers from here on are free.
    next_number: Option<u32>,
}

impl Earlier {
    /// What a reading found. Lines with damaged details say nothing.
    pub(super) fn of(shelf: &Shelf, reading: &Reading) -> Result<Self, ShelfError> {
        let signals = shelf.signals(reading.id)?;
        let mut characters: BTreeMap<u32, Vec<(f64, CharacterId)>> = BTreeMap::new();
        shelf.lines(reading.id, &mut |line| {
            let named = line.characters().unwrap_or_default();
            let named = named.iter().map(|c| (c.start_s, c.id));
            characters.entry(line.signal).or_default().extend(named);
        })?;
        let last = signals.iter().map(|signal| signal.number).max();
        Ok(Earlier {
            signals,
            characters,
            next_number: last.map(|number| number + 1),
        })
    }

    /// The first number that no signal has.
    pub(super) fn next_number(&self) -> u32 {
        self.next_number.unwrap_or(1)
    }

    /// Who a signal is that was just found, if it is known: of those at its place that had
    /// not ended, the one that began nearest.
    pub(super) fn meet(&mut self, found: &Signal) -> Option<Named> {
        let off_s = |known: &KeptSignal| {
            let begin_s = known.latest()?.begin_s;
            Some((begin_s - found.begin_s).abs())
        };
        let same = self.signals.iter().enumerate();
        let same = same.filter(|(_, known)| is_same(known, found));
        let nearest = same.filter_map(|(at, known)| Some((at, off_s(known)?)));
        let (at, _) = nearest.min_by(|a, b| a.1.total_cmp(&b.1))?;
        let known = self.signals.swap_remove(at);
        let named = self.characters.remove(&known.number).unwrap_or_default();
        Some(Named {
            number: known.number,
            names: Some((Names::of_reading(named), 1.0 / found.rate_baud)),
        })
    }
}

/// Whether a signal that was found may be this one: it lies, within half its shift, where
/// this one was from its find to its end, and begins before that.
fn is_same(known: &KeptSignal, found: &Signal) -> bool {
    let Some(last) = known.latest() else {
        return false;
    };
    let first = known.found.as_ref().unwrap_or(last);
    let (a, b) = (first.tones().middle_hz(), last.tones().middle_hz());
    let near_hz = found.shift_hz / 2.0;
    let at_its_place =
        (a.min(b) - near_hz..a.max(b) + near_hz).contains(&found.tones().middle_hz());
    let until_s = match known.ended {
        Some(_) => last.until_s,
        None => f64::INFINITY,
    };
    let in_its_time = (last.begin_s - BEFORE_S..until_s).contains(&found.begin_s);
    at_its_place && in_its_time && known.latest().is_some_and(|k| k.sense == found.sense)
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_event::{Sense, SignalId};

    fn signal(begin_s: f64, mark_hz: f64) -> Signal {
        Signal {
            id: SignalId(9),
            begin_s,
            until_s: begin_s + 100.0,
            mark_hz,
            space_hz: mark_hz + 170.0,
            shift_hz: 170.0,
            usual_shift_hz: Some(170.0),
            rate_baud: 50.0,
            usual_rate_baud: Some(50.0),
            sense: Sense::LowerTone,
            figures_row: None,
            unshift_on_space: None,
            stop_units: None,
            es_n0_db: 20.0,
            snr_3khz_db: 2.0,
            drift_hz: 0.0,
            drift_hz_per_min: 0.0,
        }
    }

    fn kept(number: u32, begin_s: f64, mark_hz: f64) -> KeptSignal {
        KeptSignal {
            number,
            found: Some(signal(begin_s, mark_hz)),
            ended: Some(signal(begin_s, mark_hz + 30.0)),
        }
    }

    fn earlier() -> Earlier {
        let id = CharacterId(77);
        Earlier {
            signals: vec![
                kept(1, 10.0, 1000.0),
                kept(2, 10.0, 2000.0),
                kept(3, 200.0, 1000.0),
            ],
            characters: [(1, vec![(10.0, id)])].into(),
            next_number: Some(4),
        }
    }

    #[test]
    fn a_signal_is_known_by_its_place_and_time() {
        let mut earlier = earlier();
        let mut met = |begin_s, mark_hz| {
            let named = earlier.meet(&signal(begin_s, mark_hz));
            named.map(|named| named.number)
        };
        assert_eq!(met(12.0, 1500.0), None);
        assert_eq!(met(195.0, 1040.0), Some(3));
        assert_eq!(met(9.0, 990.0), Some(1));
        assert_eq!(met(9.0, 990.0), None, "it was met");
        assert_eq!(met(111.0, 2000.0), None, "it had ended");
        assert_eq!(met(50.0, 2010.0), Some(2));
        assert_eq!(earlier.next_number(), 4);
    }

    #[test]
    fn its_characters_keep_their_ids() {
        let mut named = earlier().meet(&signal(9.0, 1000.0)).expect("known");
        let mut character = super::super::testing::characters_from(1, 10.01, "A").remove(0);
        assert_eq!(named.id_of(&character), CharacterId(77));
        character.start_s += 0.15;
        assert_eq!(named.id_of(&character), CharacterId(93));
        assert_eq!(Named::new(5).id_of(&character), character.id);
    }
}
