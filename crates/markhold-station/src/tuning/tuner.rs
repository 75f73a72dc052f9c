//! From spectra to instructions, as they come.

use super::edges::Edges;
use super::heard::Heard;
use super::instruct::{FollowedNow, Measured, Wanted, instruct};
use super::passband::passband;
use super::sight::Sight;
use super::words::words;
use super::{Instruction, Tuning};
use crate::instruments::floor::Floor;
use crate::instruments::spectra::{PER_SECOND, Spectrum};
use crate::settings::InUse;

/// Signals this near to each other, Hz, lie over each other: keying spreads them.
const BESIDE_HZ: f64 = 30.0;

/// Overlap is told when it has lasted for so many spectra: 2 s. After a turn of the dial the
/// old place is still followed beside the new one.
const LASTING: u32 = 2 * PER_SECOND;
/// A pair is seen elsewhere when its middle is this far from where it was, Hz: more than it
/// seems to move by itself.
const ELSEWHERE_HZ: f64 = 25.0;
/// How fast the place of a pair is followed, share a spectrum: it drifts slowly.
const FOLLOW: f64 = 0.05;
/// The receiver's drift is taken over a minute; for as long after a turn of the dial it is
/// that turn, s.
const DRIFT_S: f64 = 65.0;

/// So long after a turn of the dial the old place of a pair may still be followed beside
/// the new one, s: what lies over the other then is the same signal.
const TURNING_S: f64 = 6.0;

/// Tells how to tune.
#[derive(Clone, Debug, Default)]
pub struct Tuner {
    // state
    sight: Sight,
    heard: Heard,
    floor: Floor,
    edges: Edges,
    passband_hz: Option<[f64; 2]>,
    /// Where the middle of the pair is seen, Hz, and when it was seen elsewhere, s.
    middle_hz: Option<f64>,
    turned_s: Option<f64>,
    overlapped_for: u32,
    seen: u32,
    was: Instruction,
}

impl Tuner {
    /// Takes a spectrum, the signals that the receiver follows (the copied one first), and
    /// what is set.
    pub fn process(
        &mut self,
        spectrum: &Spectrum,
        followed: &[FollowedNow],
        in_use: &InUse,
    ) -> Tuning {
        self.floor.process(spectrum);
        // Filters do not change from one spectrum to the next.
        if self.seen.is_multiple_of(PER_SECOND)
            && let Some(floor_db) = self.floor.db()
        {
            self.passband_hz = self.edges.take(passband(floor_db));
        }
        self.seen += 1;
        let mut first = on_the_air(followed, &self.heard);
        let seen = self.sight.process(spectrum, first.map(|f| f.tones_hz));
        self.notice(seen.pair, spectrum.until_s);
        self.heard.take(self.sight.humps());
        if let Some(followed) = &mut first
            && self
                .turned_s
                .is_some_and(|t| spectrum.until_s - t < DRIFT_S)
        {
            followed.drift_hz_per_min = 0.0;
        }
        let measured = Measured {
            seen,
            followed: first,
            overlapping: self.is_overlapped(first, followed, spectrum.until_s),
            passband_hz: self.passband_hz,
        };
        let wanted = Wanted {
            target: in_use.target,
            sideband: in_use.sideband,
            was_in_tune: matches!(self.was, Instruction::InTune { .. }),
        };
        self.was = instruct(&measured, &wanted);
        Tuning {
            at_s: spectrum.until_s,
            instruction: self.was,
            words: words(&self.was, in_use.sideband),
            tones_hz: measured.seen.pair,
            passband_hz: self.passband_hz,
            target_hz: wanted.target_hz(self.passband_hz),
        }
    }
}

impl Tuner {
    /// Notices when the pair is elsewhere from one moment to the next.
    fn notice(&mut self, pair: Option<[f64; 2]>, now_s: f64) {
        let Some([low, high]) = pair else {
            return;
        };
        let middle_hz = 0.5 * (low + high);
        let before_hz = *self.middle_hz.get_or_insert(middle_hz);
        if (middle_hz - before_hz).abs() > ELSEWHERE_HZ {
            self.turned_s = Some(now_s);
            self.middle_hz = Some(middle_hz);
            self.heard.forget();
        } else {
            self.middle_hz = Some(before_hz + FOLLOW * (middle_hz - before_hz));
        }
    }

    fn is_overlapped(
        &mut self,
        first: Option<FollowedNow>,
        followed: &[FollowedNow],
        now_s: f64,
    ) -> bool {
        let turning = self.turned_s.is_some_and(|t| now_s - t < TURNING_S);
        let now = !turning && first.is_some_and(|f| is_overlapped(&f, followed, &self.heard));
        self.overlapped_for = if now { self.overlapped_for + 1 } else { 0 };
        self.overlapped_for > LASTING
    }
}

/// The signal that is copied; where it has gone and another is heard over its place, that.
fn on_the_air(followed: &[FollowedNow], heard: &Heard) -> Option<FollowedNow> {
    let first = followed.first()?;
    let mut over = followed.iter().filter(|other| lie_over(first, other));
    let there = over.find(|f| heard.is_pair_heard(f.tones_hz));
    Some(*there.unwrap_or(first))
}

/// Whether another signal that is heard now lies over this one.
fn is_overlapped(one: &FollowedNow, followed: &[FollowedNow], heard: &Heard) -> bool {
    let mut over = followed.iter().filter(|other| lie_over(one, other));
    over.any(|other| heard.is_another(other.tones_hz, one.tones_hz))
}

fn lie_over(one: &FollowedNow, other: &FollowedNow) -> bool {
    let ([low, high], [other_low, other_high]) = (one.tones_hz, other.tones_hz);
    other_low < high + BESIDE_HZ && other_high > low - BESIDE_HZ
}

#[cfg(test)]
mod tests {
    use super::super::humps::Hump;
    use super::*;
    use crate::instruments::spectra::Spectra;
    use crate::settings::Target;
    use markhold_air::{Air, Jump, Noise, Scene, Sender};
    use markhold_code::FiguresRow;
    use markhold_event::Sense;
    use markhold_sound::Sideband;

    fn told(sideband: Sideband, jump_hz: f64) -> Vec<Tuning> {
        let text = "QUIET EVENING AT THE HARBOUR ";
        let sender = Sender::of_text(text, FiguresRow::Ita2).expect("fits");
        let mut scene = Scene {
            senders: vec![Sender {
                repeat: true,
                ..sender
            }],
            noise: Noise::EsN0Db(22.0),
            duration_s: Some(9.0),
            ..Scene::default()
        };
        let jump = Jump {
            at_s: 5.0,
            by_hz: jump_hz,
        };
        scene.dial_drift.jumps = vec![jump];
        let in_use = InUse {
            sideband: Some(sideband),
            target: Target::Middle(2210.0),
            ..InUse::default()
        };
        let sound = Air::new(scene, 8000).expect("fine").render();
        let (mut tuner, mut told) = (Tuner::default(), Vec::new());
        Spectra::new(8000, 0.0).process(&sound, &mut |s| {
            told.push(tuner.process(&s, &[], &in_use));
        });
        told
    }

    #[test]
    fn a_jump_of_the_dial_is_told_the_right_way_on_both_sidebands() {
        for (sideband, jump_hz, expected) in [
            (Sideband::Lower, -300.0, "turn 300 Hz up"),
            (Sideband::Lower, 250.0, "turn 250 Hz down"),
            (Sideband::Upper, -300.0, "turn 300 Hz down"),
            (Sideband::Upper, 250.0, "turn 250 Hz up"),
        ] {
            let told = told(sideband, jump_hz);
            let before = told.iter().filter(|t| (3.0..5.0).contains(&t.at_s));
            assert!(before.clone().all(|t| t.words == "in tune"));
            let after: Vec<_> = told.iter().filter(|t| t.at_s > 5.5).collect();
            let right = after.iter().filter(|t| t.words == expected).count();
            let share = right as f64 / after.len() as f64;
            assert!(share > 0.7, "{expected}: {share}, {:?}", after.last());
        }
    }

    fn at(low: f64) -> FollowedNow {
        FollowedNow {
            tones_hz: [low, low + 170.0],
            sense: Sense::LowerTone,
            drift_hz_per_min: 0.0,
        }
    }

    fn heard(tones: &[f64]) -> Heard {
        let humps: Vec<Hump> = tones
            .iter()
            .map(|hz| Hump {
                hz: *hz,
                power: 1.0,
            })
            .collect();
        let mut heard = Heard::default();
        (0..60).for_each(|_| heard.take(&humps));
        heard
    }

    #[test]
    fn a_turn_is_no_drift() {
        let mut tuner = Tuner::default();
        let mut turns = Vec::new();
        for spectrum in 0..1000 {
            let now_s = f64::from(spectrum) / 25.0;
            // It drifts by 20 Hz in all and is turned by 60 Hz in the middle.
            let turned_hz = if now_s < 20.0 { 0.0 } else { 60.0 };
            let low = 2125.0 + 0.5 * now_s + turned_hz;
            tuner.notice(Some([low, low + 170.0]), now_s);
            if tuner.turned_s == Some(now_s) {
                turns.push(now_s);
            }
        }
        assert_eq!(turns, [20.0]);
    }

    #[test]
    fn signals_lie_over_each_other_or_beside_or_have_gone() {
        let overlapped = |followed: &[FollowedNow], tones: &[f64]| {
            let heard = heard(tones);
            let first = on_the_air(followed, &heard).expect("one");
            is_overlapped(&first, followed, &heard)
        };
        let all = [1000.0, 1100.0, 1170.0, 1270.0, 1300.0, 1470.0];
        assert!(overlapped(&[at(1000.0), at(1100.0)], &all));
        assert!(!overlapped(&[at(1000.0), at(1300.0)], &all));
        assert!(!overlapped(&[at(1000.0)], &all));
        assert!(!overlapped(&[at(1000.0), at(1100.0)], &[1000.0, 1170.0]));
        assert!(!overlapped(&[at(1000.0), at(1100.0)], &[]));
    }

    #[test]
    fn while_the_dial_is_turned_nothing_overlaps() {
        let all = [at(1000.0), at(1100.0)];
        let mut tuner = Tuner {
            heard: heard(&[1000.0, 1100.0, 1170.0, 1270.0]),
            turned_s: Some(10.0),
            ..Tuner::default()
        };
        let mut told_s = None;
        for k in 0..400 {
            let now_s = 10.0 + f64::from(k) / f64::from(PER_SECOND);
            if tuner.is_overlapped(Some(all[0]), &all, now_s) {
                told_s = told_s.or(Some(now_s));
            }
        }
        let lasting_s = f64::from(LASTING) / f64::from(PER_SECOND);
        let told_s = told_s.expect("two signals stay two");
        assert!(
            (told_s - 10.0 - TURNING_S - lasting_s).abs() < 0.1,
            "{told_s}"
        );
    }

    #[test]
    fn after_a_turn_the_place_that_is_heard_counts() {
        let (before, after) = (at(1170.0), at(1000.0));
        let heard = heard(&[1000.0, 1170.0]);
        assert_eq!(on_the_air(&[before, after], &heard), Some(after));
        assert!(!is_overlapped(&after, &[before, after], &heard));
        let elsewhere = at(2000.0);
        assert_eq!(on_the_air(&[elsewhere, after], &heard), Some(elsewhere));
        assert_eq!(on_the_air(&[], &heard), None);
    }
}
