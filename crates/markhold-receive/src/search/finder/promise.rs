//! Promise: which of the pairs at hand is tried first, which is wanted, and how long what was
//! refused waits.

use super::{FORCED_SHIFT_HZ, Finder};
use crate::pair::follower::PairStart;
use crate::search::spectrum::Peak;
use crate::search::trial::Verdict;
use crate::search::turned::{Taken, is_same_shift};
use crate::settings::Settings;
use markhold_code::usual;

/// What stands for a shift that is being copied already, as for one of the usual ones.
const KNOWN_SHIFT: f32 = 0.7;
/// A rate that is asked for is met to this share.
const FORCED_RATE: f64 = 0.0075;
/// What takes it from a pair's score that its shift, or its place, is not the one asked for: it is
/// heard only to be told of.
const NOT_ASKED_FOR: f32 = 3.0;
/// The weaker tone of a pair has at least this share of the stronger one's power (-19 dB:
/// deep fading); what is weaker belongs to the stronger one's own spectrum.
const UNEVEN: f32 = 0.012;
/// First and longest wait before a rejected pair is tried again, s: one of a usual shift may
/// be weak, or begin at any time.
const WAITS_S: (f64, f64) = (0.7, 6.0);
const LONGEST_WAIT_S: f64 = 20.0;
/// What every refusal takes from a pair's score, and of how many: others come first.
const REFUSED: (f32, u32) = (0.5, 6);
/// What takes a steady tone with a keyed one from a pair's score.
const STEADY_TONE: f32 = 1.0;
/// Least and greatest shift, Hz, with room for errors of measurement.
const SHIFTS_HZ: (f64, f64) = (78.0, 1012.0);
/// A usual pair that was rejected may be too weak for so little sound: every other time it is
/// heard for longer, s, by turns so long that a drift does not matter much, and as long as
/// sound is remembered.
pub(super) const LONG_TRIALS_S: [f64; 2] = [14.0, 28.0];

/// A pair that was rejected.
pub(super) struct Rejected {
    tones_hz: [f64; 2],
    again_s: f64,
    wait_s: f64,
    pub(super) seen_s: f64,
    tries: u32,
}

impl Finder {
    /// Pairs of peaks with a possible shift, most promising first.
    pub(super) fn pairs(&self, peaks: &[Peak], taken: &[Taken]) -> Vec<[f64; 2]> {
        let is_known = |pair: [f64; 2]| taken.iter().any(|t| is_same_shift(pair, t.tones_hz));
        let mut pairs: Vec<(f32, [f64; 2])> = Vec::new();
        for a in peaks {
            for b in peaks.iter().filter(|b| b.hz > a.hz) {
                if let Some(score) = self.score(a, b) {
                    let pair = [a.hz, b.hz];
                    let known = if is_known(pair) { KNOWN_SHIFT } else { 0.0 };
                    pairs.push((score + known - self.refused(&pair), pair));
                }
            }
        }
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        pairs.into_iter().map(|p| p.1).collect()
    }

    /// What a pair has lost by being refused.
    fn refused(&self, pair: &[f64; 2]) -> f32 {
        REFUSED.0 * self.tries(pair).min(REFUSED.1) as f32
    }

    /// How often a pair was refused.
    pub(super) fn tries(&self, pair: &[f64; 2]) -> u32 {
        let mut rejected = self.rejected.iter();
        let known = rejected.find(|r| is_same(&r.tones_hz, pair));
        known.map_or(0, |r| r.tries)
    }

    /// Whether a signal is one that the settings ask for.
    pub(super) fn is_wanted(&self, verdict: &Verdict) -> bool {
        let PairStart {
            mark_hz,
            space_hz,
            rate_baud,
            ..
        } = verdict.start;
        let (middle_hz, shift_hz) = ((mark_hz + space_hz) / 2.0, (mark_hz - space_hz).abs());
        let near = (shift_hz / 2.0).max(Settings::AT_WITHIN_HZ);
        let Settings { at_hz, sense, .. } = self.settings;
        at_hz.is_none_or(|at| (middle_hz - at).abs() < near)
            && (sense.is_none() || self.marks().contains(&verdict.mark))
            && self.fits_shift(shift_hz)
            && (self.settings.rate_baud)
                .is_none_or(|rate| (rate_baud / rate - 1.0).abs() < FORCED_RATE)
    }

    pub(super) fn fits_shift(&self, shift_hz: f64) -> bool {
        let forced = self.settings.shift_hz;
        forced.is_none_or(|forced| (shift_hz - forced).abs() < FORCED_SHIFT_HZ)
    }

    /// How far a pair with its middle here lies from where one is asked for: 0 there, 1 where it
    /// would not be taken for it any more.
    pub(super) fn far(&self, middle_hz: f64) -> f32 {
        let off = |at: f64| ((middle_hz - at).abs() / Settings::AT_WITHIN_HZ).min(1.0) as f32;
        self.settings.at_hz.map_or(0.0, off)
    }

    pub(super) fn score(&self, a: &Peak, b: &Peak) -> Option<f32> {
        let shift = b.hz - a.hz;
        let fits = self.fits_shift(shift);
        let is_forced = fits && self.settings.shift_hz.is_some();
        let can_be = is_forced || (SHIFTS_HZ.0..=SHIFTS_HZ.1).contains(&shift);
        let asked_for = if fits { 0.0 } else { NOT_ASKED_FOR };
        let asked_for = asked_for + NOT_ASKED_FOR * self.far((a.hz + b.hz) / 2.0);
        let (strong, weak) = (a.power.max(b.power), a.power.min(b.power));
        if weak < UNEVEN * strong || a.is_steady && b.is_steady {
            return None;
        }
        let steady = match a.is_steady || b.is_steady {
            true => STEADY_TONE,
            false => 0.0,
        };
        let usual = is_usual_shift(&[a.hz, b.hz]);
        let (high, low) = (a.ratio.max(b.ratio).ln(), a.ratio.min(b.ratio).ln());
        can_be.then_some(low + 0.3 * high + if usual { 0.7 } else { 0.0 } - steady - asked_for)
    }

    pub(super) fn is_due(&mut self, pair: &[f64; 2], now_s: f64, last: bool) -> bool {
        match self
            .rejected
            .iter_mut()
            .find(|r| is_same(&r.tones_hz, pair))
        {
            Some(r) => {
                r.seen_s = now_s;
                now_s >= r.again_s || last
            }
            None => true,
        }
    }

    pub(super) fn reject(&mut self, pair: [f64; 2], now_s: f64) {
        let known = self
            .rejected
            .iter()
            .position(|r| is_same(&r.tones_hz, &pair));
        let longest_s = match is_usual_shift(&pair) {
            true => WAITS_S.1,
            false => LONGEST_WAIT_S,
        };
        let (wait_s, tries) = match known.map(|at| self.rejected.swap_remove(at)) {
            Some(before) => ((before.wait_s * 1.4).min(longest_s), before.tries + 1),
            None => (WAITS_S.0, 1),
        };
        self.rejected.push(Rejected {
            tones_hz: pair,
            again_s: now_s + wait_s,
            wait_s,
            seen_s: now_s,
            tries,
        });
    }

    /// For how long a pair is to be heard this time, s, if for longer than others.
    pub(super) fn long_trial_s(&self, pair: &[f64; 2]) -> Option<f64> {
        let tries = self.tries(pair) as usize;
        (is_usual_shift(pair) && tries % 2 == 1).then(|| LONG_TRIALS_S[tries / 2 % 2])
    }
}

pub(super) fn is_usual_shift(pair: &[f64; 2]) -> bool {
    let shift_hz = (pair[1] - pair[0]).max(1.0);
    usual::nearest(&usual::SHIFTS_HZ, shift_hz, 10.0 / shift_hz).is_some()
}

fn is_same(a: &[f64; 2], b: &[f64; 2]) -> bool {
    (a[0] - b[0]).abs() < 12.0 && (a[1] - b[1]).abs() < 12.0
}
