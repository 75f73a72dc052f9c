//! Trying: the trial of one pair, and whether it explains the sound better than what it would
//! take the place of.

use super::promise::LONG_TRIALS_S;
use super::{BETTER, COMPARED_S, Find, Finder, LOOK_BACK_S, Stand, TRIAL_S};
use crate::event::Sense;
use crate::levelled::Levelled;
use crate::search::trial::{Candidate, Hypotheses, Judge, Verdict};
use crate::search::turned::{Taken, came};
use crate::settings::Settings;
use markhold_code::usual;

/// Least length, s: a trial of less cannot hold enough characters.
pub(super) const LEAST_TRIAL_S: f64 = 1.5;
/// A pair was not there yet where it has less than this share of its evidence a second: as
/// much as is left 12 dB down, where little can be read.
const NOT_YET: f64 = 0.12;
/// A pair of no usual kind with less than this share of the power of the strongest tone is a
/// part of that one: 15 dB down.
const SPLASH: f32 = 0.03;

/// What a pair among dense lines must bring, natural logarithm: of hum and buzz for ten minutes one
/// of a usual kind brought 61; keyed tones among carriers bring 80 to 360.
const CLUTTER_EVIDENCE: f32 = 75.0;

/// Carriers so far from a tone as measured, Hz, are not that tone, and those within the other reach into its
/// elements: 26 dB down there at 45 baud.
const CARRIER_HZ: (f64, f64) = (15.0, 300.0);

impl Finder {
    pub(super) fn try_pair(
        &mut self,
        sound: &Levelled,
        floor: &[f32],
        tones_hz: [f64; 2],
        (stand, taken): (&Stand, &[Taken]),
        now_s: f64,
    ) -> Option<Find> {
        let oldest_s = sound.oldest_s();
        let long_s = self.long_trial_s(&tones_hz);
        let is_long = long_s.is_some();
        let trial_s = long_s.unwrap_or(TRIAL_S);
        let mut from_s = (now_s - trial_s).max(oldest_s);
        let is_turn = stand.turned || !stand.instead_of.is_empty();
        if is_turn {
            let came_s = self.came_s(sound, floor, tones_hz, (from_s, now_s));
            from_s = came_s.unwrap_or(from_s);
        }
        if now_s - from_s < LEAST_TRIAL_S {
            return None;
        }
        let candidate = Candidate {
            is_shared: stand.shared,
            ..self.candidate(floor, tones_hz, is_long, (from_s, now_s))
        };
        let asked = self.hypotheses(&self.settings, is_long);
        let mut verdict = self.judge(sound, &candidate, &asked);
        if verdict.is_none() && (self.settings.rate_baud.is_some() || self.settings.sense.is_some())
        {
            let any = self.hypotheses(&Settings::default(), is_long);
            verdict = self.judge(sound, &candidate, &any);
        }
        let verdict = verdict?;
        if self.is_splash(floor, &verdict) || self.is_clutter(sound, &verdict) {
            return None;
        }
        let mut rivals = stand.instead_of.iter().map(|i| taken[*i]);
        let is_better = rivals.all(|rival| {
            let other = self.candidate(floor, rival.tones_hz, is_long, (from_s, now_s));
            let theirs = self.judge.weigh(sound, &other, rival.line).over_all;
            verdict.evidence > theirs.max(0.0) + BETTER
        });
        // A signal that fades in is read from as far back as it can be.
        let back_s = (now_s - LOOK_BACK_S).max(oldest_s);
        is_better.then(|| Find {
            since_s: match is_turn {
                true => self.since_s(sound, floor, &verdict, (back_s, now_s)),
                false => None,
            },
            instead_of: [&stand.instead_of[..], &stand.outright].concat(),
            verdict,
        })
    }

    /// Tries a pair; where it is refused and carriers stand beside it, once more without them: to each
    /// element they are as much of either tone as keying is.
    pub(super) fn judge(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let verdict = self.judge_as_heard(sound, candidate, hypotheses);
        let carriers_hz = self.carriers_beside(&candidate.tones_hz);
        if verdict.is_some() || candidate.missing.is_some() || carriers_hz.is_empty() {
            return verdict;
        }
        let freed = Candidate {
            carriers_hz,
            ..candidate.clone()
        };
        self.judge_as_heard(sound, &freed, hypotheses)
    }

    /// Carriers that reach into the elements of a pair, and are none of its tones, Hz.
    fn carriers_beside(&self, tones_hz: &[f64; 2]) -> Vec<f64> {
        let from = |hz: f64| tones_hz.iter().map(move |tone| (tone - hz).abs());
        let is_beside = |hz: &&f64| {
            from(**hz).all(|off| off > CARRIER_HZ.0) && from(**hz).any(|off| off < CARRIER_HZ.1)
        };
        self.carriers.iter().filter(is_beside).copied().collect()
    }

    /// Tries a pair; where it is a line but for too few characters, by as much as is heard at most: a line
    /// may idle for as long as it takes to think.
    fn judge_as_heard(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let verdict = self.judge.judge(sound, candidate, hypotheses);
        let longest_s = LONG_TRIALS_S[LONG_TRIALS_S.len() - 1];
        let from_s = (candidate.to_s - longest_s).max(sound.oldest_s());
        if verdict.is_some() || !self.judge.idles() || from_s >= candidate.from_s {
            return verdict;
        }
        let longer = Candidate {
            from_s,
            ..candidate.clone()
        };
        // In both it has to be the same kind of line: one that idles.
        let verdict = self.judge.judge(sound, &longer, hypotheses)?;
        self.judge.idles().then_some(verdict)
    }

    /// Whether a pair of no usual kind is no more than what something far stronger leaves all
    /// over the band: the clicks of its keying, and noise that the receiver's AGC lets through
    /// in its rhythm. Morse of 18 words a minute has the pace of characters at 105 baud.
    pub(super) fn is_splash(&self, floor: &[f32], verdict: &Verdict) -> bool {
        let power = |hz: f64| self.spectrum.power_at(floor, hz);
        let own = power(verdict.start.mark_hz).max(power(verdict.start.space_hz));
        !self.is_forced() && !verdict.is_usual() && own < SPLASH * self.strongest
    }

    /// Whether a pair stands among lines so dense that they pass for noise, as hum and buzz are, and is
    /// of no usual kind or not far better than all else: such lines beat in any rhythm, and two of
    /// many are any shift apart.
    pub(super) fn is_clutter(&self, sound: &Levelled, verdict: &Verdict) -> bool {
        let is_clear = verdict.is_usual() && verdict.evidence > CLUTTER_EVIDENCE;
        if is_clear || self.is_forced() {
            return false;
        }
        let clutter = self.clutter(sound);
        let tones_hz = [verdict.start.mark_hz, verdict.start.space_hz];
        let hides = |hz: &f64| !self.spectrum.stands_out(&clutter, *hz);
        tones_hz.iter().any(hides)
    }

    /// Whether a person says of what kind it is.
    fn is_forced(&self) -> bool {
        self.settings.shift_hz.is_some() || self.settings.rate_baud.is_some()
    }

    /// Where the tones of a pair came up within a stretch, s.
    pub(super) fn came_s(
        &self,
        sound: &Levelled,
        floor: &[f32],
        tones_hz: [f64; 2],
        stretch: (f64, f64),
    ) -> Option<f64> {
        let noise = tones_hz.map(|hz| self.spectrum.floor_at(floor, hz));
        came(sound.band(), tones_hz, noise, stretch)
    }

    /// When a pair that was found came within a stretch, s, if next to nothing speaks for it
    /// before that.
    pub(super) fn since_s(
        &mut self,
        sound: &Levelled,
        floor: &[f32],
        verdict: &Verdict,
        (from_s, to_s): (f64, f64),
    ) -> Option<f64> {
        let (mark_hz, space_hz) = (verdict.start.mark_hz, verdict.start.space_hz);
        let tones_hz = [mark_hz.min(space_hz), mark_hz.max(space_hz)];
        let at_s = self.came_s(sound, floor, tones_hz, (from_s, to_s))?;
        let line = (verdict.start.rate_baud, verdict.mark);
        let mut a_second = |from_s: f64, to_s: f64| {
            let candidate = self.candidate(floor, tones_hz, true, (from_s, to_s));
            let weight = self.judge.weigh(sound, &candidate, line);
            f64::from(weight.over_noise) / (to_s - from_s)
        };
        let before = a_second(from_s.max(at_s - COMPARED_S), at_s);
        let after = a_second(at_s, to_s.min(at_s + COMPARED_S));
        (before < NOT_YET * after).then_some(at_s)
    }

    pub(super) fn candidate(
        &self,
        floor: &[f32],
        tones_hz: [f64; 2],
        is_weak: bool,
        (from_s, to_s): (f64, f64),
    ) -> Candidate {
        Candidate {
            tones_hz,
            is_weak,
            is_shared: false,
            missing: None,
            power: None,
            carriers_hz: vec![],
            noise_density: tones_hz.map(|hz| self.spectrum.element_noise(floor, hz, 1.0)),
            from_s,
            to_s,
        }
    }

    pub(super) fn marks(&self) -> Vec<usize> {
        marks(&self.settings)
    }

    pub(super) fn hypotheses(&self, settings: &Settings, is_long: bool) -> Hypotheses {
        let marks = marks(settings);
        match settings.rate_baud {
            Some(rate) => Hypotheses {
                rates_baud: vec![rate],
                else_rates_baud: vec![],
                marks,
                refine: false,
            },
            None => Hypotheses {
                rates_baud: usual::RATES_BAUD.to_vec(),
                else_rates_baud: match is_long {
                    true => vec![],
                    false => Judge::all_rates(),
                },
                marks,
                refine: true,
            },
        }
    }
}

/// Which tone may be mark: 0 the lower, 1 the higher.
fn marks(settings: &Settings) -> Vec<usize> {
    match settings.sense {
        None => vec![0, 1],
        Some(Sense::LowerTone) => vec![0],
        Some(Sense::HigherTone) => vec![1],
    }
}
