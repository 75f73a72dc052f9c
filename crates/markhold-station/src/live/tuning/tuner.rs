//! From spectra to instructions, as they come.

use super::instruct::{FollowedNow, Measured, Wanted, instruct};
use super::passband::passband;
use super::sight::Sight;
use super::words::words;
use super::{Instruction, Tuning};
use crate::live::command::InUse;
use crate::live::instruments::floor::Floor;
use crate::live::instruments::spectra::{PER_SECOND, Spectrum};

/// Signals this near to each other, Hz, lie over each other: keying spreads them.
const BESIDE_HZ: f64 = 30.0;

/// Tells how to tune.
#[derive(Clone, Debug, Default)]
pub struct Tuner {
    // state
    sight: Sight,
    floor: Floor,
    passband_hz: Option<[f64; 2]>,
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
        if self.seen.is_multiple_of(PER_SECOND) {
            self.passband_hz = self.floor.db().and_then(passband);
        }
        self.seen += 1;
        let first = followed.first().copied();
        let measured = Measured {
            seen: self.sight.process(spectrum, first.map(|f| f.tones_hz)),
            followed: first,
            overlapping: overlapping(followed),
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

/// Whether any other signal lies over the first.
fn overlapping(followed: &[FollowedNow]) -> bool {
    let Some((first, others)) = followed.split_first() else {
        return false;
    };
    let [low, high] = first.tones_hz;
    others.iter().any(|other| {
        let [other_low, other_high] = other.tones_hz;
        other_low < high + BESIDE_HZ && other_high > low - BESIDE_HZ
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::command::{Sideband, Target};
    use crate::live::instruments::spectra::Spectra;
    use markhold_air::{Air, Jump, Noise, Scene, Sender};
    use markhold_code::FiguresRow;
    use markhold_receive::event::Sense;

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

    #[test]
    fn signals_lie_over_each_other_or_beside() {
        let at = |low: f64| FollowedNow {
            tones_hz: [low, low + 170.0],
            sense: Sense::LowerTone,
            drift_hz_per_min: 0.0,
        };
        assert!(overlapping(&[at(1000.0), at(1100.0)]));
        assert!(!overlapping(&[at(1000.0), at(1300.0)]));
        assert!(!overlapping(&[at(1000.0)]));
        assert!(!overlapping(&[]));
    }
}
