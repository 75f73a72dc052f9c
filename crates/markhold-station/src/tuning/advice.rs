//! An instruction stands until there is better evidence: a person reads it, turns, looks again.
//!
//! What is measured flickers; what is said does not. Another number is said when the tones were
//! turned, or when the number has been another one for a while; another kind of instruction when
//! it has been so for a while. A drift in words changes once a minute at most.

use super::Instruction;

/// A number of Hz is said anew when it is off by more than this, Hz, or by this share: the eye
/// of a person who turns needs no more.
const OFF_HZ: f64 = 25.0;
const OFF_SHARE: f64 = 0.15;
/// The first number after a turn was said in haste: once it is put right when it is off by more
/// than this, Hz.
const FIRST_OFF_HZ: f64 = 8.0;
/// How long something else must be so before it is said, s: what tells where tones are, how well they are placed and
/// that they are there settles within as long.
const NUMBER_S: f64 = 0.6;
const KIND_S: f64 = 0.8;
/// What was fine stays fine for longer, s: as long as a deep fade or a crash.
const FINE_S: f64 = 2.0;
/// While the dial is being turned numbers follow it, not more often than this, s: the eye
/// cannot read faster.
const TURNING_S: f64 = 0.25;
/// The dial is being turned when the tones are this far from where they were when the sentence
/// was said, Hz: more than drift and keying make of them within seconds.
const MOVED_HZ: f64 = 15.0;
/// For so long after the tones last moved the dial counts as being turned, s.
const AFTER_TURN_S: f64 = 0.6;
/// Something else is still being measured when it was so long ago, s: single spectra flicker.
const FLICKER_S: f64 = 0.2;
/// How often the figures in a sentence that is not about turning may change, s.
const FIGURES_S: f64 = 60.0;

/// Holds the instruction.
#[derive(Clone, Copy, Debug, Default)]
pub struct Advice {
    // state
    standing: Instruction,
    /// Since when it stands, s.
    since_s: f64,
    /// Whether the number was said while the dial was turned, or is the first after it.
    is_hasty: bool,
    /// What else is being measured, since when, and when last, s.
    other: Option<(Instruction, f64, f64)>,
    /// When the tones were moved last, s.
    moved_s: Option<f64>,
    /// Where their middle was when the sentence was said, or the dial last stood, Hz.
    stood_hz: Option<f64>,
}

impl Advice {
    /// Takes what would be said of this moment alone and where the middle of the tones is, Hz;
    /// says what stands.
    pub fn process(&mut self, now: Instruction, now_s: f64, middle_hz: Option<f64>) -> Instruction {
        if let Some(hz) = middle_hz {
            let stood_hz = *self.stood_hz.get_or_insert(hz);
            if (hz - stood_hz).abs() > MOVED_HZ {
                (self.moved_s, self.stood_hz) = (Some(now_s), Some(hz));
                self.is_hasty = true;
            }
        }
        let is_hasty = self.is_hasty;
        let is_same = |said: &Instruction, now: &Instruction| is_same(said, now, is_hasty);
        let was_seen = self.other.is_some_and(|(_, _, s)| now_s - s < FLICKER_S);
        if is_same(&self.standing, &now) {
            self.other = self.other.filter(|_| was_seen);
            match now {
                // How long it has been is told by a clock, not measured.
                Instruction::Waiting { .. } => self.standing = now,
                _ if now_s - self.since_s >= FIGURES_S && way_hz(&now).is_none() => {
                    self.say(now, now_s);
                }
                _ => {}
            }
            return self.standing;
        }
        let since_s = match self.other {
            Some((other, since_s, _)) if is_same(&other, &now) => since_s,
            Some(_) if was_seen => return self.standing,
            _ => now_s,
        };
        self.other = Some((now, since_s, now_s));
        if now_s - since_s >= self.patience_s(&now, now_s) {
            self.say(now, now_s);
        }
        self.standing
    }

    fn say(&mut self, now: Instruction, now_s: f64) {
        let is_number = way_hz(&self.standing).is_some() && way_hz(&now).is_some();
        let is_turning = self.moved_s.is_some_and(|s| now_s - s < AFTER_TURN_S);
        self.is_hasty = is_turning || !is_number;
        (self.standing, self.since_s, self.other) = (now, now_s, None);
    }

    fn patience_s(&self, now: &Instruction, now_s: f64) -> f64 {
        if self.moved_s.is_some_and(|s| now_s - s < AFTER_TURN_S) {
            return (TURNING_S - (now_s - self.since_s)).max(0.0);
        }
        if std::mem::discriminant(&self.standing) == std::mem::discriminant(now) {
            return NUMBER_S;
        }
        match (self.standing, now) {
            (Instruction::InTune { .. }, _) => FINE_S,
            // What is not true any more goes at once: somebody may be reading it.
            (_, Instruction::Waiting { .. }) if way_hz(&self.standing).is_some() => 0.0,
            _ => KIND_S,
        }
    }
}

/// Whether two instructions say the same to a person; a number said in haste is another sooner.
fn is_same(said: &Instruction, now: &Instruction, is_hasty: bool) -> bool {
    std::mem::discriminant(said) == std::mem::discriminant(now)
        && match (way_hz(said), way_hz(now)) {
            (Some(said), Some(hz)) if is_hasty => (said - hz).abs() <= FIRST_OFF_HZ,
            (Some(said), Some(hz)) => (said - hz).abs() <= OFF_HZ.max(OFF_SHARE * said.abs()),
            (None, None) => true,
            _ => false,
        }
}

/// The number of Hz in an instruction.
fn way_hz(instruction: &Instruction) -> Option<f64> {
    match *instruction {
        Instruction::Turn { dial_hz, .. } => Some(dial_hz),
        Instruction::Move { audio_hz } => Some(audio_hz),
        Instruction::OneTone { turn } => turn,
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn turn(dial_hz: f64) -> Instruction {
        Instruction::Turn {
            dial_hz,
            is_mirrored: false,
        }
    }

    const FINE: Instruction = Instruction::InTune {
        drift_hz_per_min: 0.0,
    };

    /// Says `of(time)` 25 times a second for so long; how often the sentence changed, and the last.
    fn changes(
        advice: &mut Advice,
        (from_s, to_s): (f64, f64),
        of: impl Fn(f64) -> Instruction,
    ) -> (u32, Instruction) {
        let (mut changes, mut before, mut now_s) = (0, advice.standing, from_s);
        while now_s < to_s {
            let said = advice.process(of(now_s), now_s, Some(1500.0));
            changes += u32::from(said != before);
            before = said;
            now_s += 0.04;
        }
        (changes, before)
    }

    #[test]
    fn what_flickers_is_said_once() {
        let mut advice = Advice::default();
        let flicker = |t: f64| match ((t * 25.0) as u32) % 11 {
            3 => FINE,
            7 => Instruction::Nothing,
            k => turn(300.0 + 4.0 * f64::from(k) - 20.0),
        };
        let (count, last) = changes(&mut advice, (0.0, 60.0), flicker);
        assert_eq!(count, 1);
        assert!(
            matches!(last, Instruction::Turn { dial_hz, .. } if (dial_hz - 300.0).abs() < 25.0)
        );
    }

    #[test]
    fn better_evidence_is_said() {
        let mut advice = Advice::default();
        changes(&mut advice, (0.0, 2.0), |_| turn(300.0));
        let (count, last) = changes(&mut advice, (2.0, 4.0), |_| turn(-90.0));
        assert_eq!((count, last), (1, turn(-90.0)));
        let (count, last) = changes(&mut advice, (4.0, 6.0), |_| FINE);
        assert_eq!((count, last), (1, FINE));
    }

    #[test]
    fn while_the_dial_is_turned_numbers_follow() {
        let mut advice = Advice::default();
        changes(&mut advice, (0.0, 2.0), |_| turn(400.0));
        let (mut said, mut now_s) = (Vec::new(), 2.0);
        while now_s < 3.0 {
            let left = 400.0 * (3.0 - now_s);
            let now = advice.process(turn(left), now_s, Some(1500.0 - left));
            if said.last() != Some(&now) {
                said.push(now);
            }
            now_s += 0.04;
        }
        assert!((3..=5).contains(&said.len()), "{said:?}");
    }

    #[test]
    fn a_number_goes_at_once_when_its_tones_have_left() {
        let mut advice = Advice::default();
        changes(&mut advice, (0.0, 2.0), |_| turn(300.0));
        let left = Instruction::Waiting { silent_s: 0.7 };
        assert_eq!(advice.process(left, 2.04, Some(1500.0)), left);
    }

    #[test]
    fn a_pause_is_told_as_it_grows() {
        let mut advice = Advice::default();
        let waiting = |silent_s| Instruction::Waiting { silent_s };
        let (_, last) = changes(&mut advice, (5.0, 47.0), waiting);
        assert!(matches!(last, Instruction::Waiting { silent_s } if silent_s > 46.9));
    }

    #[test]
    fn a_drift_is_told_once_a_minute() {
        let mut advice = Advice::default();
        let drifting = |t: f64| Instruction::InTune {
            drift_hz_per_min: t,
        };
        let (count, _) = changes(&mut advice, (0.0, 180.5), drifting);
        assert!((3..=4).contains(&count), "{count}");
    }
}
