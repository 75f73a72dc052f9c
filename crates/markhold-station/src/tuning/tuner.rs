//! From spectra to instructions, as they come.

use super::advice::Advice;
use super::aim::{Aim, Place};
use super::alternation::Alternation;
use super::around::{Around, Tone};
use super::edges::Edges;
use super::heard::Heard;
use super::instruct::{Known, Wanted, instruct};
use super::mirror::Mirror;
use super::passband::passband;
use super::sight::{Chosen, Seen, Sight};
use super::subject::{FollowedNow, Subject};
use super::subjects::{self, Subjects};
use super::words::words;
use super::{Fault, Instruction, Tuning};
use crate::instruments::floor::Floor;
use crate::instruments::spectra::{PER_SECOND, Spectrum};
use crate::settings::{InUse, Target};
use markhold_sound::Sideband;

/// Signals this near to each other, Hz, lie over each other: keying spreads them.
const BESIDE_HZ: f64 = 30.0;
/// A tone is at a place within this, Hz: keying and drift.
const SAME_HZ: f64 = 30.0;
/// Overlap is told when it has lasted for so many spectra: 2 s. After a turn of the dial the
/// old place is still followed beside the new one.
const LASTING: u32 = 2 * PER_SECOND;
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
    alternation: Alternation,
    around: Around,
    floor: Floor,
    edges: Edges,
    aim: Aim,
    subjects: Subjects,
    mirror: Mirror,
    advice: Advice,
    sideband: Option<Sideband>,
    /// The place that a person has chosen, Hz.
    held_hz: Option<f64>,
    turned_s: Option<f64>,
    overlapped_for: u32,
    looks: u32,
    was: Instruction,
}

impl Tuner {
    /// Takes a spectrum, what is wrong with the sound, the signals that the receiver follows
    /// (the copied one first), and what is set.
    pub fn process(
        &mut self,
        spectrum: &Spectrum,
        fault: Option<Fault>,
        followed: &[FollowedNow],
        in_use: &InUse,
    ) -> Tuning {
        let now_s = spectrum.until_s;
        if (self.sideband, self.held_hz) != (in_use.sideband, in_use.hold.at_hz) {
            (self.sideband, self.held_hz) = (in_use.sideband, in_use.hold.at_hz);
            self.forget();
        }
        self.look_at_filter(spectrum);
        self.alternation.take(spectrum);
        let chosen = self.chosen();
        let is_wanted = |f: &FollowedNow| chosen.is_none_or(|c| c.is(f.tones_hz));
        let first = on_the_air(followed, &self.heard).filter(is_wanted);
        let seen = self
            .sight
            .process(spectrum, first.map(|f| f.tones_hz), chosen);
        self.heard.take(self.sight.humps());
        let (subject, moved_hz) = self.subject(&seen, first, now_s);
        if moved_hz.is_some() {
            self.turned_s = Some(now_s);
            self.heard.forget();
            self.alternation.forget();
        }
        let known = Known {
            now_s,
            subject: subject.map(|s| self.without_turn(s, now_s)),
            lone: seen.lone,
            is_lone_start_stop: seen
                .lone
                .is_some_and(|lone| self.alternation.is_start_stop(lone.hz)),
            is_overlapped: self.is_overlapped(first, followed, now_s) || seen.crowded,
            filter_hz: self.aim.filter_hz(),
            other_hz: self.subjects.takes_turns_with(now_s),
        };
        let wanted = Wanted {
            place: self.place(in_use.target, now_s),
            sideband: in_use.sideband,
            is_mirrored: self
                .mirror
                .process(&self.was, in_use.sideband, moved_hz, now_s),
            was_in_tune: matches!(self.was, Instruction::InTune { .. }),
        };
        let now = match fault {
            Some(fault) => Instruction::Fault { fault },
            None => instruct(&known, &wanted),
        };
        let middle_hz = subject.map(|s| 0.5 * (s.tones_hz[0] + s.tones_hz[1]));
        self.was = self.advice.process(now, now_s, middle_hz);
        Tuning {
            at_s: now_s,
            instruction: self.was,
            words: words(&self.was, in_use.sideband),
            tones_hz: subject.map_or(seen.pair, |s| Some(s.tones_hz)),
            passband_hz: self.aim.filter_hz(),
            target_hz: wanted.place.middle_hz,
        }
    }

    /// Tones of others by pitch, when they are others than those told before: after each spectrum was
    /// taken.
    pub fn around(&mut self, spectrum: &Spectrum, followed: &[FollowedNow]) -> Option<Vec<Tone>> {
        self.around.process(spectrum, &self.alternation, followed)
    }

    /// Who has chosen a place wants to hear of no other: of two on the air, the one there.
    fn chosen(&self) -> Option<Chosen> {
        let within_hz = markhold_receive::Settings::AT_WITHIN_HZ;
        self.held_hz.map(|hz| Chosen { hz, within_hz })
    }

    /// On the other sideband tones lie elsewhere and the other way round: what was known of a
    /// sender is not true there. Nor where another place was chosen.
    fn forget(&mut self) {
        self.subjects = Subjects::default();
        self.sight = Sight::default();
        self.heard.forget();
        self.alternation.forget();
    }

    /// Where the tones should be. Of two that take turns neither is brought to a named place, since
    /// the other would leave it: both may stay where there is room.
    fn place(&self, target: Target, now_s: f64) -> Place {
        match self.subjects.takes_turns_with(now_s) {
            Some(_) => self.aim.place(Target::Passband),
            None => self.aim.place(target),
        }
    }

    /// There is no sound to tune by; what is to be said until there is.
    pub fn without_sound(&mut self, fault: Fault, at_s: f64, in_use: &InUse) -> Tuning {
        let instruction = Instruction::Fault { fault };
        self.was = instruction;
        self.advice = Advice::default();
        Tuning {
            at_s,
            instruction,
            words: words(&instruction, in_use.sideband),
            tones_hz: None,
            passband_hz: self.aim.filter_hz(),
            target_hz: self.aim.place(in_use.target).middle_hz,
        }
    }

    /// Filters do not change from one spectrum to the next.
    fn look_at_filter(&mut self, spectrum: &Spectrum) {
        self.floor.process(spectrum);
        if self.looks.is_multiple_of(PER_SECOND)
            && let Some(floor_db) = self.floor.db()
        {
            self.aim.look(self.edges.take(passband(floor_db)));
        }
        self.looks += 1;
    }

    fn subject(
        &mut self,
        seen: &Seen,
        first: Option<FollowedNow>,
        now_s: f64,
    ) -> (Option<Subject>, Option<f64>) {
        let heard = &self.heard;
        let is_tone = |hz: f64| heard.is_heard(hz);
        let humps = self.sight.humps();
        let is_there = |hz: f64| humps.iter().any(|h| (h.hz - hz).abs() < SAME_HZ);
        let is_one_sender = |pair: [f64; 2]| self.alternation.is_one_sender(pair);
        let pairs = subjects::Heard {
            now_s,
            pair_hz: seen.pair,
            pair_power: humps
                .iter()
                .filter(|h| {
                    seen.pair
                        .is_some_and(|pair| pair.iter().any(|hz| (hz - h.hz).abs() < SAME_HZ))
                })
                .map(|h| h.power)
                .sum(),
            is_one_sender: &is_one_sender,
            followed: first,
            is_followed_heard: first.is_some_and(|f| heard.is_pair_heard(f.tones_hz)),
            is_there: &is_there,
            is_tone: &is_tone,
        };
        self.subjects.process(&pairs)
    }

    /// A turn of the dial is no drift.
    fn without_turn(&self, subject: Subject, now_s: f64) -> Subject {
        let is_late = self.turned_s.is_some_and(|t| now_s - t < DRIFT_S);
        let steady = |f: FollowedNow| FollowedNow {
            drift_hz_per_min: if is_late { 0.0 } else { f.drift_hz_per_min },
            ..f
        };
        Subject {
            followed: subject.followed.map(steady),
            ..subject
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
    use crate::settings::Hold;
    use markhold_air::{Air, Jump, Noise, Scene, Sender};
    use markhold_code::{FiguresRow, StartStop};
    use markhold_event::Sense;

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
            told.push(tuner.process(&s, None, &[], &in_use));
        });
        told
    }

    #[test]
    fn a_jump_of_the_dial_is_told_the_right_way_on_both_sidebands() {
        for (sideband, jump_hz, expected) in [
            (Sideband::Lower, -300.0, "turn the dial 300 Hz up"),
            (Sideband::Lower, 250.0, "turn the dial 250 Hz down"),
            (Sideband::Upper, -300.0, "turn the dial 300 Hz down"),
            (Sideband::Upper, 250.0, "turn the dial 250 Hz up"),
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
            quality: None,
            characters: 0,
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
    fn what_is_known_of_a_sender_ends_with_the_sideband() {
        let sender = Sender::of_text("QUIET EVENING AT THE HARBOUR ", FiguresRow::Ita2);
        let scene = Scene {
            senders: vec![Sender {
                repeat: true,
                ..sender.expect("fits")
            }],
            noise: Noise::EsN0Db(22.0),
            duration_s: Some(9.0),
            ..Scene::default()
        };
        let sound = Air::new(scene, 8000).expect("fine").render();
        let (mut tuner, mut told) = (Tuner::default(), Vec::new());
        let read = |sense| FollowedNow {
            sense,
            quality: Some(0.95),
            characters: 60,
            ..at(2125.0)
        };
        Spectra::new(8000, 0.0).process(&sound, &mut |s| {
            // It was read on the lower sideband; on the upper one it is not read yet.
            let (sideband, followed) = match s.until_s < 6.0 {
                true => (Sideband::Lower, vec![read(Sense::LowerTone)]),
                false => (Sideband::Upper, Vec::new()),
            };
            let in_use = InUse {
                sideband: Some(sideband),
                ..InUse::default()
            };
            told.push(tuner.process(&s, None, &followed, &in_use).instruction);
        });
        assert!(!told.contains(&Instruction::OtherSideband));
        assert!(matches!(told.last(), Some(Instruction::InTune { .. })));
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

    /// Two senders at once; where the sentence has its tones, once it has some, with this place chosen.
    fn steered_to(at_hz: Option<f64>) -> Vec<f64> {
        let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING ";
        let sender = |centre_hz: f64, shift_hz: f64| Sender {
            speed: StartStop::new(45.45, 1.5),
            shift_hz,
            centre_hz,
            repeat: true,
            ..Sender::of_text(text, FiguresRow::Ita2).expect("fits")
        };
        let scene = Scene {
            senders: vec![sender(900.0, 170.0), sender(1900.0, 200.0)],
            noise: Noise::EsN0Db(20.0),
            duration_s: Some(20.0),
            ..Scene::default()
        };
        let sound = Air::new(scene, 8000).expect("a scene").render();
        let in_use = InUse {
            hold: Hold {
                at_hz,
                ..Hold::default()
            },
            ..InUse::default()
        };
        let (mut tuner, mut steered) = (Tuner::default(), Vec::new());
        Spectra::new(8000, 0.0).process(&sound, &mut |spectrum| {
            let tuning = tuner.process(&spectrum, None, &[], &in_use);
            if matches!(tuning.instruction, Instruction::InTune { .. }) {
                steered.extend(tuning.tones_hz.map(|[a, b]| 0.5 * (a + b)));
            }
        });
        steered
    }

    #[test]
    fn who_has_chosen_one_hears_of_no_other() {
        for at_hz in [900.0, 1900.0] {
            let steered = steered_to(Some(at_hz));
            assert!(steered.len() > 250, "{at_hz}: {} spectra", steered.len());
            let is_away = |hz: &&f64| (**hz - at_hz).abs() > 60.0;
            assert_eq!(steered.iter().find(is_away), None, "{at_hz}");
        }
    }
}
