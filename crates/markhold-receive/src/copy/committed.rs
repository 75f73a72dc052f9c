//! Committed: which stretches of sound have been given out, by time and place.
//!
//! A stretch of sound is copied once, whatever name its signal had. A signal that ended may be
//! found again, or the next one of a net be found in the sound that is still remembered and
//! read the one before it, for its followers pull in tones that are nearby. So what was given
//! out is known by when it began and by where its tones lay then, not by where its signal was
//! followed to afterwards.

use std::collections::VecDeque;

use crate::event::SignalId;

/// Tones this near to one another are the same, Hz: what is left of errors of following.
const SAME_HZ: f64 = 30.0;
/// A character that begins less than so many elements from another is the same.
const SAME_ELEMENTS: f64 = 3.0;
/// From the begin of a character to where the next may begin, elements.
const CHARACTER: f64 = 7.0;

/// One character that was given out.
#[derive(Clone, Copy, Debug)]
struct Given {
    id: SignalId,
    start_s: f64,
    place: Place,
}

/// Where a character was heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Tones of mark and of space, Hz; twice the same where only one is sent.
    pub tones_hz: [f64; 2],
    /// Duration of an element, s.
    pub element_s: f64,
}

impl Place {
    /// Of tones of mark and of space, Hz, of which the lower (0) or the higher (1) may not be
    /// sent, and a rate in baud.
    pub fn new(tones_hz: [f64; 2], missing: Option<usize>, rate_baud: f64) -> Self {
        let [mark, space] = tones_hz;
        let tones_hz = match missing {
            Some(0) => [mark.max(space); 2],
            Some(_) => [mark.min(space); 2],
            None => tones_hz,
        };
        Self {
            tones_hz,
            element_s: 1.0 / rate_baud,
        }
    }
}

/// Characters that were given out of the sound that is still remembered.
#[derive(Debug, Default)]
pub struct Committed {
    given: VecDeque<Given>,
}

impl Committed {
    /// Notes a character that was given out.
    pub fn note(&mut self, id: SignalId, start_s: f64, place: Place) {
        self.given.push_back(Given { id, start_s, place });
    }

    /// Whether a character was given out already, under another name.
    pub fn holds(&self, id: SignalId, start_s: f64, place: Place) -> bool {
        let apart_s = SAME_ELEMENTS * place.element_s;
        self.given.iter().any(|g| {
            g.id != id && (g.start_s - start_s).abs() < apart_s && is_same(&g.place, &place)
        })
    }

    /// Up to where a place has been given out, s; `None` if it never was.
    pub fn until_s(&self, place: Place) -> Option<f64> {
        let there = self.given.iter().filter(|g| is_same(&g.place, &place));
        there
            .map(|g| g.start_s + CHARACTER * g.place.element_s)
            .max_by(f64::total_cmp)
    }

    /// Forgets what began before an instant.
    pub fn forget(&mut self, before_s: f64) {
        self.given.retain(|g| g.start_s >= before_s);
    }
}

/// Whether all tones of one lie where the other's do, in either sense.
fn is_same(one: &Place, other: &Place) -> bool {
    let lies_in = |place: &Place, hz: f64| place.tones_hz.iter().any(|t| (t - hz).abs() < SAME_HZ);
    let within = |a: &Place, b: &Place| a.tones_hz.iter().all(|hz| lies_in(b, *hz));
    within(one, other) || within(other, one)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: SignalId = SignalId(1);
    const SECOND: SignalId = SignalId(2);

    fn at(mark_hz: f64) -> Place {
        Place {
            tones_hz: [mark_hz, mark_hz + 170.0],
            element_s: 0.022,
        }
    }

    fn committed() -> Committed {
        let mut committed = Committed::default();
        for k in 0..30 {
            committed.note(FIRST, 10.0 + 0.165 * f64::from(k), at(1000.0));
        }
        committed
    }

    #[test]
    fn a_pair_of_which_one_tone_was_heard_alone_is_known() {
        let mut committed = Committed::default();
        let alone = Place::new([1000.0, 1170.0], Some(1), 45.0);
        committed.note(FIRST, 10.0, alone);
        assert!(committed.holds(SECOND, 10.0, at(1000.0)));
        assert!(committed.holds(SECOND, 10.0, at(830.0)));
        assert!(!committed.holds(SECOND, 10.0, at(1060.0)));
    }

    #[test]
    fn the_same_sound_at_the_same_place_is_known_under_any_name() {
        let committed = committed();
        assert!(committed.holds(SECOND, 10.0 + 0.165 * 7.0 + 0.02, at(1012.0)));
        assert!(!committed.holds(SECOND, 15.5, at(1012.0)), "later");
        assert!(!committed.holds(SECOND, 10.0, at(1060.0)), "elsewhere");
        assert!(!committed.holds(FIRST, 10.02, at(1000.0)), "its own");
        let other_sense = Place {
            tones_hz: [1170.0, 1000.0],
            ..at(0.0)
        };
        assert!(committed.holds(SECOND, 10.0, other_sense));
    }

    #[test]
    fn reading_goes_on_after_the_last_character_that_was_given() {
        let mut committed = committed();
        let until_s = committed.until_s(at(990.0)).expect("given");
        assert!((until_s - (10.0 + 0.165 * 29.0 + 7.0 * 0.022)).abs() < 1e-9);
        assert_eq!(committed.until_s(at(1100.0)), None);
        committed.forget(14.0);
        assert!(!committed.holds(SECOND, 10.0, at(1000.0)));
        assert_eq!(committed.until_s(at(990.0)), Some(until_s));
        committed.forget(20.0);
        assert_eq!(committed.until_s(at(990.0)), None);
    }
}
