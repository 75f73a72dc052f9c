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

/// Characters on their way from reading to copy.
#[derive(Default)]
pub struct Holding {
    held: Vec<Heard>,
    sure_s: Option<f64>,
}

impl Holding {
    /// Takes one character, gives all that may be reported now, in order of time.
    pub fn take(&mut self, heard: Heard, out: &mut Vec<Heard>) {
        let at = heard.start_s;
        self.held.retain(|h| at - h.start_s <= PATIENCE_S);
        let sure = heard.reading.probability() >= SURE;
        if !sure {
            self.held.push(heard);
            return;
        }
        if self.sure_s.is_none_or(|s| at - s > PATIENCE_S) {
            let alone = !self.held.iter().any(|h| h.reading.probability() >= SURE);
            if alone && heard.reading.probability() < BEYOND_DOUBT {
                self.held.push(heard);
                return;
            }
            let few = self.held.len().saturating_sub(LEAD);
            self.held.drain(..few);
            self.held.retain(|h| {
                h.reading.probability() >= LEAD_PROBABILITY && at - h.start_s <= LEAD_S
            });
        }
        self.sure_s = Some(at);
        out.append(&mut self.held);
        out.push(heard);
    }

    /// The sound has ended: gives what a sure character would still have vouched for.
    pub fn finish(&mut self, out: &mut Vec<Heard>) {
        let last = self
            .held
            .iter()
            .rposition(|h| h.reading.probability() >= SURE);
        out.extend(self.held.drain(..).take(last.map_or(0, |i| i + 1)));
    }

    /// When the latest sure character began, s.
    pub fn sure_s(&self) -> Option<f64> {
        self.sure_s
    }
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
