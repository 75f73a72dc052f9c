//! Where the tones should be, and where they may be.
//!
//! A person who names a place wants them there. Otherwise any place well inside of what the
//! receiver lets through is as good as any other: nobody is sent away from a signal that has
//! room on both sides. Only tones near an edge are to be moved, and then at once to where they
//! are best: the usual tones until the filter is known, from then on its middle. Once known it
//! stays known, so that the aim does not move.

use crate::settings::Target;

/// Middle of the usual terminal unit's 2125 and 2295 Hz (common practice), where nothing
/// else is known.
const USUAL_HZ: f64 = 2210.0;
/// A usual voice filter (common practice), where the edges have not been seen.
const USUAL_FILTER_HZ: [f64; 2] = [300.0, 2700.0];
/// Looks, one a second, in which the edges must stay before the filter is known: a fade, a
/// crash or a strong signal is over by then.
const LOOKS: u32 = 8;
/// Looks after which other edges are those of another filter, not of a strong signal: longer
/// than an over.
const OTHER_LOOKS: u32 = 120;
/// Edges are where they were within this, Hz: what is seen of them in noise wanders.
const PLAY_HZ: f64 = 60.0;
/// A tone has room when it is so far inside an edge, Hz: keying spreads it by twice a rate of
/// 50 baud, and a warm receiver drifts as little in an evening (common practice).
const ROOM_HZ: f64 = 100.0;
/// In a narrow filter there is less room: at most this share of its width on either side.
const SHARE: f64 = 0.12;
/// Tones at a named place are there within this, Hz: any nearer is finer than most dials.
const TOLERANCE_HZ: f64 = 20.0;
/// Once in place they are until they are this much further off, Hz.
const PLAY_IN_PLACE_HZ: f64 = 15.0;

/// Where the tones should be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where their middle should be, Hz.
    pub middle_hz: f64,
    /// Between which edges there is room for both tones, Hz; `None` where the middle itself
    /// is asked for.
    pub room_hz: Option<[f64; 2]>,
}

impl Place {
    /// How far the tones must be moved, Hz of audio, up being positive; `None` where they may
    /// stay. `was_in_tune` gives some play.
    pub fn way_hz(&self, [low, high]: [f64; 2], was_in_tune: bool) -> Option<f64> {
        let play_hz = if was_in_tune { PLAY_IN_PLACE_HZ } else { 0.0 };
        let off_hz = self.middle_hz - 0.5 * (low + high);
        let in_the_middle = off_hz.abs() <= TOLERANCE_HZ + play_hz;
        let has_room = self
            .room_hz
            .is_some_and(|[from, to]| low >= from - play_hz && high <= to + play_hz);
        (!in_the_middle && !has_room).then_some(off_hz)
    }
}

/// Finds the filter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Aim {
    // state
    known_hz: Option<[f64; 2]>,
    seen_hz: Option<[f64; 2]>,
    looks: u32,
}

impl Aim {
    /// Takes the edges of what the receiver lets through as seen in this second.
    pub fn look(&mut self, edges_hz: Option<[f64; 2]>) {
        let near = |a: [f64; 2], b: [f64; 2]| (0..2).all(|k| (a[k] - b[k]).abs() < PLAY_HZ);
        match (edges_hz, self.seen_hz) {
            (Some(now), Some(seen)) if near(now, seen) => self.looks += 1,
            _ => (self.seen_hz, self.looks) = (edges_hz, 1),
        }
        let enough = match self.known_hz {
            None => LOOKS,
            Some(_) => OTHER_LOOKS,
        };
        if self.looks >= enough
            && let Some(seen) = self.seen_hz
            && self.known_hz.is_none_or(|known| !near(known, seen))
        {
            self.known_hz = Some(seen);
        }
    }

    /// The filter, if it is known: its edges, Hz.
    pub fn filter_hz(&self) -> Option<[f64; 2]> {
        self.known_hz
    }

    /// Where the tones should be.
    pub fn place(&self, target: Target) -> Place {
        let (middle_hz, [low, high]) = match (target, self.known_hz) {
            (Target::Middle(middle_hz), _) => {
                return Place {
                    middle_hz,
                    room_hz: None,
                };
            }
            (Target::Passband, Some([low, high])) => (0.5 * (low + high), [low, high]),
            (Target::Passband, None) => (USUAL_HZ, USUAL_FILTER_HZ),
        };
        let room = ROOM_HZ.min(SHARE * (high - low));
        Place {
            middle_hz,
            room_hz: Some([low + room, high - room]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILTER: Option<[f64; 2]> = Some([300.0, 2700.0]);

    fn known(edges: [f64; 2]) -> Aim {
        let mut aim = Aim::default();
        (0..LOOKS).for_each(|_| aim.look(Some(edges)));
        aim
    }

    #[test]
    fn the_usual_tones_are_the_aim_until_the_filter_is_known() {
        let mut aim = Aim::default();
        for second in 1..60 {
            aim.look(FILTER);
            let middle_hz = aim.place(Target::Passband).middle_hz;
            let expected = if second < LOOKS { 2210.0 } else { 1500.0 };
            assert_eq!(middle_hz, expected, "{second} s");
        }
        assert_eq!(aim.place(Target::Middle(1000.0)).middle_hz, 1000.0);
    }

    #[test]
    fn what_wanders_does_not_move_the_aim_and_another_filter_does() {
        let mut aim = known([300.0, 2700.0]);
        for second in 0..60 {
            aim.look(match second % 7 {
                1 => None,
                3 => Some([300.0, 1900.0]),
                5 => Some([340.0, 2660.0]),
                _ => FILTER,
            });
            assert_eq!(aim.place(Target::Passband).middle_hz, 1500.0, "{second} s");
        }
        (0..60).for_each(|_| aim.look(None));
        assert_eq!(aim.filter_hz(), FILTER, "silence changes no filter");
        (1..OTHER_LOOKS).for_each(|_| aim.look(Some([1800.0, 2600.0])));
        assert_eq!(aim.filter_hz(), FILTER, "a strong signal changes no filter");
        aim.look(Some([1800.0, 2600.0]));
        assert_eq!(aim.place(Target::Passband).middle_hz, 2200.0);
    }

    #[test]
    fn tones_with_room_may_stay_and_others_go_to_the_middle() {
        let way = |aim: Aim, low: f64| {
            aim.place(Target::Passband)
                .way_hz([low, low + 170.0], false)
        };
        let voice = known([300.0, 2700.0]);
        for low in [450.0, 1000.0, 1415.0, 2125.0, 2400.0] {
            assert_eq!(way(voice, low), None, "{low}");
        }
        assert_eq!(way(voice, 330.0), Some(1085.0));
        assert_eq!(way(voice, 2500.0), Some(-1085.0));
        // A narrow filter: little room, and the middle is good in any case.
        let narrow = known([2080.0, 2340.0]);
        assert_eq!(way(narrow, 2125.0), None);
        assert_eq!(way(narrow, 2085.0), Some(40.0));
        // Nothing is known: the usual filter and tones.
        assert_eq!(way(Aim::default(), 2125.0), None);
        assert_eq!(way(Aim::default(), 320.0), Some(1805.0));
    }

    #[test]
    fn a_named_place_is_asked_for_with_some_play() {
        let place = Aim::default().place(Target::Middle(2210.0));
        let way = |off: f64, was| place.way_hz([2125.0 + off, 2295.0 + off], was);
        assert_eq!((way(19.0, false), way(30.0, true)), (None, None));
        assert_eq!(way(30.0, false), Some(-30.0));
        assert_eq!(way(300.0, true), Some(-300.0));
    }
}
