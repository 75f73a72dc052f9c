//! Single tones: of some senders only one tone is sent, of some only one is heard.

use super::promise::is_usual_shift;
use super::trying::LEAST_TRIAL_S;
use super::{Find, Finder, Search, TRIAL_S};
use crate::search::spectrum::Peak;
use crate::search::trial::Candidate;
use crate::search::turned::is_tone_of;

/// A tone is tried alone if it has this share of the power of the strongest: what is weaker
/// may be that one's splashes.
const SINGLE: f32 = 0.1;
/// And if what was found is farther away, Hz: the splashes of keying reach so far.
const ALONE_HZ: f64 = 300.0;
/// The shift of a pair of which one tone is not sent, Hz, where none is forced: any would do.
const ASSUMED_SHIFT_HZ: f64 = 170.0;

/// So many times a pair of usual shift is refused before one of its tones is tried alone: one of
/// the two may have faded for some seconds, or be hidden by somebody who tunes up.
const TRIES: u32 = 3;

impl Finder {
    /// A tone that no other one is keyed against may be a line all the same: of some senders
    /// only one tone is sent, of some only one is heard.
    pub(super) fn try_single_tones(&mut self, search: &mut Search, peaks: &[Peak]) {
        for peak in peaks.iter().filter(|peak| !peak.is_steady) {
            let hz = peak.hz;
            let others = search
                .fresh
                .iter()
                .chain(self.elsewhere.iter().map(|e| &e.0));
            let is_known = others.flatten().any(|tone| (tone - hz).abs() < ALONE_HZ);
            let is_taken = search.taken.iter().any(|taken| is_tone_of(hz, taken));
            let is_alone = peak.power > SINGLE * self.strongest && !is_known && !is_taken;
            if self.credit < 0.0 || !is_alone || self.may_be_of_a_pair(peak, peaks) {
                continue;
            }
            self.try_in(search, [hz; 2], |finder, search| {
                finder.try_single_tone(search, hz)
            });
        }
    }

    /// Whether some pair with this tone was not refused often enough yet.
    pub(super) fn may_be_of_a_pair(&self, peak: &Peak, peaks: &[Peak]) -> bool {
        let pair = |other: &Peak| match other.hz > peak.hz {
            true => self.score(peak, other).map(|_| [peak.hz, other.hz]),
            false => self.score(other, peak).map(|_| [other.hz, peak.hz]),
        };
        let is_open =
            |pair: &[f64; 2]| self.tries(pair) < if is_usual_shift(pair) { TRIES } else { 1 };
        peaks.iter().filter_map(pair).any(|pair| is_open(&pair))
    }

    pub(super) fn try_single_tone(&mut self, search: &Search, hz: f64) -> Option<Find> {
        let shift_hz = self.settings.shift_hz.unwrap_or(ASSUMED_SHIFT_HZ);
        let power = |hz: f64| self.spectrum.power_at(search.floor, hz);
        // The tone that is not sent is where there is least.
        let (tones_hz, missing) = match power(hz - shift_hz) < power(hz + shift_hz) {
            true => ([hz - shift_hz, hz], 0),
            false => ([hz, hz + shift_hz], 1),
        };
        let from_s = (search.now_s - TRIAL_S).max(search.sound.oldest_s());
        if search.now_s - from_s < LEAST_TRIAL_S {
            return None;
        }
        let candidate = Candidate {
            missing: Some(missing),
            ..self.candidate(search.floor, tones_hz, false, (from_s, search.now_s))
        };
        let asked = self.hypotheses(&self.settings, false);
        let verdict = self.judge.judge(search.sound, &candidate, &asked)?;
        Some(Find {
            verdict,
            instead_of: Vec::new(),
            since_s: None,
        })
    }
}
