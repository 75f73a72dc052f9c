//! Misread: whether a pair that is copied badly is a line of another rate, or in the other sense.
//!
//! A pair is found by a few seconds, and those may tell 50 baud from 45 or from 100 wrongly: little
//! was sent yet, or it was crushed by static. What was found is no more than the best that was known
//! then. So where the copy is doubtful, or a row that tells no sense, the latest sound is tried
//! anew, and a line that explains it far better takes the place of the one that is followed.

use super::{BETTER, Find, Finder, TRIAL_S};
use crate::levelled::Levelled;
use crate::search::trial::Verdict;
use crate::search::turned::Taken;

/// Copy is doubtful where its characters are wrong with more than this probability. Lines of 50 baud
/// read at 45.45 had 0.013 to 0.08; deep fading has as much, and is asked in vain.
pub(crate) const DOUBTFUL: f32 = 0.01;
/// First and longest wait from one question to the next, s, and by what each answer that it is read
/// as it is lengthens it: most doubtful copy is read rightly and badly heard. The first is a quarter of
/// what is listened to; the longest lets half as much again go wrong as is listened to.
const WAITS_S: (f64, f64) = (2.0, 12.0);
const LONGER: f64 = 1.4;
/// Copy that has become more doubtful by this factor is asked about as if for the first time.
const WORSE: f32 = 2.0;
/// Rates that differ by less than this, as a natural logarithm, are the same one: what the follower
/// settles by itself.
const SAME_RATE: f64 = 0.03;

/// When it is asked of one signal whether it is misread.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Patience {
    again_s: f64,
    wait_s: f64,
    /// How doubtful it was when it was asked last.
    doubt: f32,
}

impl Patience {
    /// Of a signal that is not to be asked about before `first_s`.
    pub fn from(first_s: f64) -> Self {
        Self {
            again_s: first_s,
            wait_s: WAITS_S.0,
            doubt: 0.0,
        }
    }

    /// Whether it is time to ask; then the next time is later. `doubt` is the probability that a
    /// character is wrong.
    pub fn is_due(&mut self, doubt: f32, now_s: f64) -> bool {
        if doubt > WORSE * self.doubt {
            self.again_s = self.again_s.min(now_s + WAITS_S.0);
            (self.wait_s, self.doubt) = (WAITS_S.0, doubt);
        }
        let is_due = now_s >= self.again_s;
        if is_due {
            self.again_s = now_s + self.wait_s;
            self.wait_s = (self.wait_s * LONGER).min(WAITS_S.1);
            self.doubt = doubt;
        }
        is_due
    }
}

impl Finder {
    /// Lines of another rate or sense in place of those of the taken that are asked about. To be
    /// asked right after [`Finder::look`].
    pub fn misread(
        &mut self,
        sound: &Levelled,
        taken: &[Taken],
        is_asked: &[bool],
        now_s: f64,
    ) -> Vec<Find> {
        if !self.spectrum.is_settled() {
            return Vec::new();
        }
        let floors = self.floors(sound);
        let mut finds = Vec::new();
        for (i, (taken, is_asked)) in taken.iter().zip(is_asked).enumerate() {
            if *is_asked && taken.missing.is_none() {
                let other = self.read_otherwise(sound, &floors, taken, now_s);
                finds.extend(other.map(|verdict| Find {
                    verdict,
                    instead_of: vec![i],
                    since_s: None,
                }));
            }
        }
        finds
    }

    /// The line of another rate or sense that explains the latest sound far better, if one does.
    fn read_otherwise(
        &mut self,
        sound: &Levelled,
        [floor, late_floor]: &[Vec<f32>; 2],
        taken: &Taken,
        now_s: f64,
    ) -> Option<Verdict> {
        let averages = self.averages([floor, late_floor]);
        // What has gone, by a turn of the dial for one, is no line of any kind.
        if !taken.tones_hz.iter().all(|hz| averages.is_there(*hz)) {
            return None;
        }
        let stretch = ((now_s - TRIAL_S).max(sound.oldest_s()), now_s);
        let candidate = self.candidate(floor, taken.tones_hz, true, stretch);
        let hypotheses = self.hypotheses(&self.settings, true);
        let verdict = self.judge(sound, &candidate, &hypotheses);
        // Not from the budget of what is looked for: a turn of the dial was found too late then.
        self.judge.spent();
        let verdict = verdict?;
        let (rate, mark) = taken.line;
        let same_rate = (verdict.start.rate_baud / rate).ln().abs() < SAME_RATE;
        if same_rate && verdict.mark == mark {
            return None;
        }
        let theirs = self.judge.weigh(sound, &candidate, taken.line).over_all;
        (verdict.evidence > theirs.max(0.0) + BETTER).then_some(verdict)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, Random, sound};
    use crate::settings::Settings;
    use markhold_signal::BandPlan;

    /// 12 s of random characters at 50 baud, 1000 and 1170 Hz, mark the lower tone, 7.5 units each.
    fn keyed() -> Vec<f32> {
        let mut random = Random::new(3);
        let mut marks = Vec::new();
        for _ in 0..90 {
            marks.extend([false; 2]);
            (0..5).for_each(|_| marks.extend([random.uniform() < 0.5; 2]));
            marks.extend([true; 3]);
        }
        sound(12.0, 0.02, |t| {
            let is_mark = marks.get((t * 100.0) as usize).is_none_or(|m| *m);
            let hz = if is_mark { 1000.0 } else { 1170.0 };
            0.1 * (std::f64::consts::TAU * hz * t).cos()
        })
    }

    /// What takes the place of a pair that is read as this line.
    fn instead(line: (f64, usize), doubt: f32) -> Vec<Find> {
        let plan = BandPlan::new(RATE_HZ);
        let taken = [Taken {
            tones_hz: [1000.0, 1170.0],
            line,
            missing: None,
            power: [0.01; 2],
        }];
        let mut finder = Finder::new(plan, &Settings::default());
        let mut band = Levelled::new(plan, 2000);
        let (all, mut rest) = (keyed(), 0);
        let mut patience = Patience::from(0.0);
        let mut finds = Vec::new();
        while rest < all.len() {
            let (count, complete) = band.push(&all[rest..]);
            rest += count;
            if complete {
                let now_s = rest as f64 / RATE_HZ;
                finder.look(&band, &taken, now_s, false);
                let is_asked = [doubt > DOUBTFUL && patience.is_due(doubt, now_s)];
                finds.extend(finder.misread(&band, &taken, &is_asked, now_s));
            }
        }
        finds
    }

    #[test]
    fn a_line_read_at_another_rate_or_in_the_other_sense_is_found_again() {
        for line in [(45.45, 0), (100.0, 0), (50.0, 1), (75.0, 1)] {
            let finds = instead(line, 0.05);
            assert!(!finds.is_empty(), "{line:?}");
            for find in finds {
                assert_eq!((find.verdict.mark, &find.instead_of[..]), (0, &[0][..]));
                assert!(
                    (find.verdict.start.rate_baud - 50.0).abs() < 0.5,
                    "{line:?}"
                );
            }
        }
        assert!(instead((50.0, 0), 0.05).is_empty(), "it is read as it is");
        assert!(instead((45.45, 0), 0.0).is_empty(), "nobody doubts");
    }

    #[test]
    fn what_is_read_as_it_is_is_asked_ever_less_until_it_gets_worse() {
        let mut patience = Patience::from(3.0);
        let mut asked_s = |doubt: f32, from_s: f64, to_s: f64| -> Vec<f64> {
            let times = (0..).map(|i| from_s + 0.032 * f64::from(i));
            let times = times.take_while(|t| *t < to_s);
            times.filter(|t| patience.is_due(doubt, *t)).collect()
        };
        assert!(asked_s(0.02, 0.0, 2.9).len() <= 1);
        let asked = asked_s(0.02, 2.9, 120.0);
        let waits: Vec<f64> = asked.windows(2).map(|t| t[1] - t[0]).collect();
        assert!(waits.windows(2).all(|w| w[1] > w[0] - 0.04), "{waits:?}");
        assert!(waits.iter().all(|w| *w < WAITS_S.1 + 0.04), "{waits:?}");
        let again = asked_s(0.2, 120.0, 125.0);
        assert!(
            again[0] < 120.0 + WAITS_S.0 + 0.04 && again.len() > 1,
            "{again:?}"
        );
    }
}
