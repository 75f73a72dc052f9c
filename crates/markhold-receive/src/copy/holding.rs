//! Holding: doubtful characters wait for a sure one.
//!
//! Noise before, between and after signals reads as doubtful characters too. Inside a
//! signal a doubtful character is worth having, and sooner or later a sure one follows it;
//! after the signal none does. So doubtful characters are held until then, and dropped if
//! it does not come.

use crate::pair::follower::Heard;

/// A character at least this probable is sure enough to vouch for those before it.
const SURE: f32 = 0.6;
/// A character at least this probable vouches alone even at the begin of a signal; between
/// the two, a second one must follow.
const BEYOND_DOUBT: f32 = 0.95;
/// Longest wait for a sure character, s: longer than a deep fade, shorter than a pause
/// between signals.
const PATIENCE_S: f64 = 8.0;
/// Before the first sure character of a signal, only so many doubtful ones are believed,
/// if they are not mere guesses,
const LEAD: usize = 2;
/// and only if they stand directly before it, s.
const LEAD_PROBABILITY: f32 = 0.25;
const LEAD_S: f64 = 0.45;

/// After so many doubtful characters with no more than this mean probability the signal may
/// have ended, and one sure character could be noise: about one in a hundred of noise is.
const ENDED: (usize, f32) = (4, 0.45);

/// Characters on their way from reading to copy.
#[derive(Default)]
pub struct Holding {
    held: Vec<Heard>,
    sure_s: Option<f64>,
    /// What nothing vouched for, since it was asked for last.
    dropped: Vec<Heard>,
}

impl Holding {
    /// Takes one character, gives all that may be reported now, in order of time.
    pub fn take(&mut self, heard: Heard, out: &mut Vec<Heard>) {
        let at = heard.start_s;
        self.drop_where(|h| at - h.start_s > PATIENCE_S);
        let begins = self.sure_s.is_none_or(|s| at - s > PATIENCE_S);
        let vouches = match begins || self.may_have_ended() {
            true => self.is_second(&heard) || heard.reading.probability() >= BEYOND_DOUBT,
            false => is_sure(&heard),
        };
        if !vouches {
            self.held.push(heard);
            return;
        }
        if begins {
            let few = self.held.len().saturating_sub(LEAD);
            self.dropped.extend(self.held.drain(..few));
            self.drop_where(|h| {
                h.reading.probability() < LEAD_PROBABILITY || at - h.start_s > LEAD_S
            });
        }
        self.sure_s = Some(at);
        out.append(&mut self.held);
        out.push(heard);
    }

    /// Whether a sure character follows another one.
    fn is_second(&self, heard: &Heard) -> bool {
        is_sure(heard) && self.held.iter().any(is_sure)
    }

    /// Whether so many characters have been so doubtful that they are as likely to be the
    /// noise after a signal as a fade.
    fn may_have_ended(&self) -> bool {
        let doubtful = self.held.iter().filter(|h| !is_sure(h));
        let sum: f32 = doubtful.clone().map(|h| h.reading.probability()).sum();
        let count = doubtful.count();
        count >= ENDED.0 && sum < ENDED.1 * count as f32
    }

    /// The sound has ended: gives what a sure character would still have vouched for.
    pub fn finish(&mut self, out: &mut Vec<Heard>) {
        let last = self.held.iter().rposition(is_sure);
        let last = last.filter(|_| !self.may_have_ended());
        out.extend(self.held.drain(..last.map_or(0, |i| i + 1)));
        self.dropped.append(&mut self.held);
    }

    /// What was held and nothing vouched for, since this was asked last.
    pub fn dropped(&mut self) -> Vec<Heard> {
        std::mem::take(&mut self.dropped)
    }

    /// The signal has ended: nothing vouches any more for what is held.
    pub fn give_up(&mut self) {
        self.dropped.append(&mut self.held);
    }

    fn drop_where(&mut self, such: impl Fn(&Heard) -> bool) {
        let held = std::mem::take(&mut self.held).into_iter();
        let (dropped, held): (Vec<Heard>, Vec<Heard>) = held.partition(such);
        self.held = held;
        self.dropped.extend(dropped);
    }

    /// When the latest sure character began, s.
    pub fn sure_s(&self) -> Option<f64> {
        self.sure_s
    }
}

fn is_sure(heard: &Heard) -> bool {
    heard.reading.probability() >= SURE
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::heard;

    fn given(list: &[(f64, f32)]) -> Vec<f64> {
        let (mut holding, mut out) = (Holding::default(), Vec::new());
        for (t, p) in list {
            holding.take(heard(*t, *p), &mut out);
        }
        out.iter().map(|h| h.start_s).collect()
    }

    #[test]
    fn doubtful_characters_come_with_the_next_sure_one() {
        assert_eq!(
            given(&[(1.0, 0.97), (1.2, 0.3), (1.4, 0.1), (1.6, 0.9)]),
            [1.0, 1.2, 1.4, 1.6]
        );
    }

    #[test]
    fn noise_before_and_after_a_signal_is_dropped() {
        let noise = |from: f64| (0..20).map(move |k| (from + 0.2 * f64::from(k), 0.1));
        let list: Vec<_> = noise(0.0)
            .chain([(5.0, 0.4), (5.2, 0.9), (5.4, 0.9)])
            .chain(noise(6.0))
            .collect();
        assert_eq!(given(&list), [5.0, 5.2, 5.4]);
    }

    #[test]
    fn nothing_is_lost_between_what_is_given_and_what_is_dropped() {
        let (mut holding, mut out, mut dropped) = (Holding::default(), Vec::new(), Vec::new());
        let probability = |k: usize| [0.1, 0.4, 0.2, 0.97, 0.3, 0.65][k * k % 6];
        for k in 0..300 {
            holding.take(heard(0.7 * k as f64, probability(k)), &mut out);
            dropped.append(&mut holding.dropped());
        }
        holding.finish(&mut out);
        dropped.append(&mut holding.dropped());
        let mut all: Vec<f64> = out.iter().chain(&dropped).map(|h| h.start_s).collect();
        all.sort_by(f64::total_cmp);
        assert!(all.into_iter().eq((0..300).map(|k| 0.7 * f64::from(k))));
        assert!(!out.is_empty() && !dropped.is_empty());
    }

    #[test]
    fn one_sure_character_does_not_vouch_for_the_noise_after_a_signal() {
        let noise = [(1.2, 0.4), (1.4, 0.3), (1.6, 0.4), (1.8, 0.2)];
        let with = |more: &[(f64, f32)]| given(&[&[(1.0, 0.97)], &noise[..], more].concat());
        assert_eq!(with(&[(2.0, 0.7)]), [1.0]);
        assert_eq!(with(&[(2.0, 0.7), (2.2, 0.8)]).len(), 7, "a fade");
        assert_eq!(with(&[(2.0, 0.97)]).len(), 6, "a fade");
    }

    #[test]
    fn nothing_is_held_for_ever() {
        let list: Vec<_> = [(0.0, 0.97)]
            .into_iter()
            .chain((1..100).map(|k| (f64::from(k), 0.2)))
            .chain([(100.0, 0.97)])
            .collect();
        let out = given(&list);
        assert_eq!(out.last(), Some(&100.0));
        assert!(out.len() <= 2 + 8, "{out:?}");
    }
}
