//! The finder: which candidate is tried when, so that nothing is missed and little is
//! tried in vain.

use std::collections::VecDeque;

use markhold_code::usual;
use markhold_signal::BandPlan;

use super::passband::Passband;
use super::spectrum::{AVERAGE_S, HUMP_HZ, LATE_AVERAGE_S, Peak, Spectrum};
use super::trial::{Candidate, Hypotheses, Judge, Verdict};
use super::turned::{Averages, Beside, Taken, came, is_same_place, is_same_shift};
use crate::event::Sense;
use crate::levelled::Levelled;
use crate::pair::follower::PairStart;
use crate::settings::Settings;

/// Frames from one look at the spectrum to the next: a quarter of a second.
const LOOK_FRAMES: u64 = 8;
/// Length of sound a trial listens to, s.
const TRIAL_S: f64 = 8.0;
/// A usual pair that was rejected may be too weak for so little sound: every other time it is
/// heard for longer, s, by turns so long that a drift does not matter much, and as long as
/// sound is remembered.
const LONG_TRIALS_S: [f64; 2] = [14.0, 28.0];
/// Least length, s: a trial of less cannot hold enough characters.
const LEAST_TRIAL_S: f64 = 1.5;
/// Least and greatest shift, Hz, with room for errors of measurement.
const SHIFTS_HZ: (f64, f64) = (78.0, 1012.0);
/// A forced shift may differ by this much from the measured humps, Hz.
pub(crate) const FORCED_SHIFT_HZ: f64 = 15.0;
/// A pair takes the place of one that is being copied if its evidence for the latest sound,
/// over all other explanations, is more by this than that of the other.
const BETTER: f32 = 32.0;
/// A pair was not there yet where it has less than this share of its evidence a second: as
/// much as is left 12 dB down, where little can be read.
const NOT_YET: f64 = 0.12;
/// Evidence is compared over this long before and after a pair came, s.
const COMPARED_S: f64 = 4.0;
/// A pair of no usual kind with less than this share of the power of the strongest tone is a
/// part of that one: 15 dB down.
const SPLASH: f32 = 0.03;
/// Frames from one comparison of what is taken to the next: a second.
const COMPARE_FRAMES: u64 = 32;
/// How far copying looks back, s; more if it took a longer trial to find a pair.
pub(crate) const LOOK_BACK_S: f64 = 14.0;
/// A tone is worth a trial if it was heard in the latest part of what a trial listens to, s:
/// in the average a strong one lingers for twice as long after it has gone.
const HEARD_S: f64 = 6.0;
/// What stands for a shift that is being copied already, as for one of the usual ones.
const KNOWN_SHIFT: f32 = 0.7;
/// A signal that is asked for lies with its middle this near, or within half its shift, Hz; of
/// several the nearest is meant.
pub(crate) const AT_HZ: f64 = 300.0;
/// A rate that is asked for is met to this share.
const FORCED_RATE: f64 = 0.0075;
/// What takes it from a pair's score that its shift, or its place, is not the one asked for: it is
/// heard only to be told of.
const NOT_ASKED_FOR: f32 = 3.0;
/// For how long a signal that was not asked for is known, s.
const ELSEWHERE_S: f64 = 20.0;
/// The weaker tone of a pair has at least this share of the stronger one's power (-19 dB:
/// deep fading); what is weaker belongs to the stronger one's own spectrum.
const UNEVEN: f32 = 0.012;
/// Trials a second in the long run, and at most saved up; in what [`Judge::spent`] counts.
const TRIALS_PER_S: f64 = 1.0;
const SAVED_TRIALS: f64 = 8.0;
/// First and longest wait before a rejected pair is tried again, s: one of a usual shift may
/// be weak, or begin at any time.
const WAITS_S: (f64, f64) = (0.7, 6.0);
const LONGEST_WAIT_S: f64 = 20.0;
/// What every refusal takes from a pair's score, and of how many: others come first.
const REFUSED: (f32, u32) = (0.5, 6);
/// What takes a steady tone with a keyed one from a pair's score.
const STEADY_TONE: f32 = 1.0;

/// A pair that was rejected.
struct Rejected {
    tones_hz: [f64; 2],
    again_s: f64,
    wait_s: f64,
    seen_s: f64,
    tries: u32,
}

/// A pair that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Find {
    /// How to begin to follow it.
    pub verdict: Verdict,
    /// Which of the pairs that were taken it takes the place of, as places in their list.
    pub instead_of: Vec<usize>,
    /// When the dial was turned to it, s, if it was.
    pub since_s: Option<f64>,
}

/// What bars a pair, and what it would take the place of.
struct Stand {
    instead_of: Vec<usize>,
    turned: bool,
    shared: bool,
}

/// Looks for pairs.
pub struct Finder {
    // configured
    settings: Settings,
    // derived
    judge: Judge,
    // state
    spectrum: Spectrum,
    late: Spectrum,
    /// When which tones stood out of the average of late, s and Hz.
    heard: VecDeque<(f64, Vec<f64>)>,
    /// Power of the strongest tone now.
    strongest: f32,
    rejected: Vec<Rejected>,
    /// Signals found where none was asked for, and when.
    elsewhere: Vec<([f64; 2], f64)>,
    /// The latest of them.
    heard_elsewhere: Option<Verdict>,
    /// Trials that may be made now.
    credit: f64,
}

impl Finder {
    /// A finder for one sampling plan.
    pub fn new(plan: BandPlan, settings: &Settings) -> Self {
        Self {
            settings: settings.clone(),
            judge: Judge::new(plan),
            spectrum: Spectrum::new(plan, AVERAGE_S),
            late: Spectrum::new(plan, LATE_AVERAGE_S),
            heard: VecDeque::new(),
            strongest: 0.0,
            rejected: Vec::new(),
            elsewhere: Vec::new(),
            heard_elsewhere: None,
            credit: SAVED_TRIALS,
        }
    }

    /// Looks by other settings from now on. What was rejected or not wanted is judged again.
    pub fn set_settings(&mut self, settings: &Settings) {
        self.settings = settings.clone();
        self.rejected.clear();
        self.elsewhere.clear();
        self.heard_elsewhere = None;
    }

    /// The latest signal that was heard and was not asked for.
    pub fn heard_elsewhere(&self) -> Option<&Verdict> {
        self.heard_elsewhere.as_ref()
    }

    /// Takes in the latest frame of the band; looks for new pairs now and then. `taken` are
    /// the pairs that are being copied already. `last` looks in any case.
    pub fn look(&mut self, sound: &Levelled, taken: &[Taken], now_s: f64, last: bool) -> Vec<Find> {
        let band = sound.band();
        let index = band.next_frame() - 1;
        if !last {
            let frame = band.frame(index).expect("the latest frame is kept");
            self.spectrum.add(frame);
            self.late.add(frame);
        }
        if !self.spectrum.is_settled() || !(last || index.is_multiple_of(LOOK_FRAMES)) {
            return Vec::new();
        }
        let [floor, late_floor] = self.floors(sound);
        let mut peaks = self.spectrum.peaks(&floor);
        self.strongest = peaks.iter().map(|peak| peak.power).fold(0.0, f32::max);
        self.listen(&late_floor, now_s);
        peaks.retain(|peak| self.was_heard(peak.hz));
        let floors = [&floor[..], &late_floor];
        self.rejected.retain(|r| now_s - r.seen_s < 10.0);
        self.elsewhere.retain(|e| now_s - e.1 < ELSEWHERE_S);
        let look_s = LOOK_FRAMES as f64 * band.plan().hop_s();
        self.credit = (self.credit + TRIALS_PER_S * look_s).min(SAVED_TRIALS);
        let mut finds = Vec::new();
        let mut fresh: Vec<[f64; 2]> = Vec::new();
        for pair in self.pairs(&peaks, taken) {
            let Some(stand) = self.stand(pair, taken, &fresh, floors) else {
                continue;
            };
            if self.credit < 0.0 {
                break;
            }
            if !self.is_due(&pair, now_s, last) {
                continue;
            }
            match self.try_pair(sound, &floor, pair, (&stand, taken), now_s) {
                Some(find) => {
                    fresh.push(pair);
                    if self.is_wanted(&find.verdict) {
                        finds.push(find);
                    } else {
                        self.elsewhere.push((pair, now_s));
                        self.heard_elsewhere = Some(find.verdict);
                    }
                }
                None => self.reject(pair, now_s),
            }
            self.credit -= self.judge.spent();
        }
        finds
    }

    /// Floors of both averages.
    fn floors(&self, sound: &Levelled) -> [Vec<f32>; 2] {
        let passband = match sound.bins() {
            Some((bins, bin_hz)) => Passband::new(&bins, bin_hz),
            None => Passband::default(),
        };
        [&self.spectrum, &self.late].map(|average| average.floor(&passband))
    }

    /// Notes which tones there are now.
    fn listen(&mut self, late_floor: &[f32], now_s: f64) {
        let peaks = self.late.peaks(late_floor);
        let tones = peaks.iter().map(|peak| peak.hz).collect();
        self.heard.push_back((now_s, tones));
        let old = |heard: &&(f64, Vec<f64>)| now_s - heard.0 > HEARD_S;
        let over = self.heard.iter().take_while(old).count();
        self.heard.drain(..over);
    }

    fn was_heard(&self, hz: f64) -> bool {
        let near = |tone: &f64| (tone - hz).abs() < HUMP_HZ;
        self.heard.iter().any(|(_, tones)| tones.iter().any(near))
    }

    fn averages<'a>(&'a self, [long, late]: [&'a [f32]; 2]) -> Averages<'a> {
        Averages {
            long: (&self.spectrum, long),
            late: (&self.late, late),
            late_tones: self.heard.back().map_or(&[], |heard| &heard.1),
        }
    }

    /// What a pair would take the place of; `None` if something bars it, or it has gone.
    fn stand(
        &self,
        pair: [f64; 2],
        taken: &[Taken],
        fresh: &[[f64; 2]],
        floors: [&[f32]; 2],
    ) -> Option<Stand> {
        let averages = self.averages(floors);
        if !pair.iter().all(|hz| averages.is_there(*hz)) {
            return None;
        }
        let mut stand = Stand {
            instead_of: Vec::new(),
            turned: false,
            shared: false,
        };
        let mut shares: Vec<[f64; 2]> = Vec::new();
        for other in fresh.iter().chain(self.elsewhere.iter().map(|e| &e.0)) {
            match averages.beside(pair, *other) {
                Beside::Barred => return None,
                Beside::Shared => shares.push(*other),
                Beside::Rival | Beside::Free => {}
            }
        }
        for (i, other) in taken.iter().map(|t| t.tones_hz).enumerate() {
            match averages.beside(pair, other) {
                Beside::Barred => return None,
                Beside::Rival => stand.instead_of.push(i),
                Beside::Shared => shares.push(other),
                Beside::Free => stand.turned |= averages.has_moved(pair, other),
            }
        }
        stand.shared = !shares.is_empty();
        let is_shared = |hz: &f64| shares.iter().flatten().any(|t| (t - hz).abs() < HUMP_HZ);
        // Tones of two others, and none of its own.
        (!pair.iter().all(is_shared)).then_some(stand)
    }

    /// Which of the pairs that are taken are no more than a part of another one of them: the
    /// follower of a pair that has gone may come to rest on a tone of its neighbour's. To be
    /// asked right after [`Finder::look`].
    pub fn outdone(&mut self, sound: &Levelled, taken: &[Taken], now_s: f64) -> Vec<usize> {
        let index = sound.band().next_frame() - 1;
        if taken.len() < 2 || !index.is_multiple_of(COMPARE_FRAMES) || !self.late.is_settled() {
            return Vec::new();
        }
        let [floor, late_floor] = self.floors(sound);
        let floors = [&floor[..], &late_floor];
        let mut outdone: Vec<usize> = Vec::new();
        for (i, one) in taken.iter().enumerate() {
            let mut others = taken.iter().enumerate().filter(|(k, _)| *k != i);
            let is_outdone = others.any(|(k, other)| {
                let same = is_same_place(one.tones_hz, other.tones_hz);
                let averages = self.averages(floors);
                let is_rival = averages.beside(other.tones_hz, one.tones_hz) == Beside::Rival;
                let is_part = is_rival && self.beats(sound, &floor, (other, one), now_s);
                !outdone.contains(&k) && (same && k < i || is_part)
            });
            if is_outdone {
                outdone.push(i);
            }
        }
        outdone
    }

    /// Whether one pair explains the latest sound better than another.
    fn beats(
        &mut self,
        sound: &Levelled,
        floor: &[f32],
        (one, other): (&Taken, &Taken),
        now_s: f64,
    ) -> bool {
        let stretch = ((now_s - COMPARED_S).max(0.0), now_s);
        let [one, other] = [one, other].map(|taken| {
            let candidate = self.candidate(floor, taken.tones_hz, false, stretch);
            self.judge.weigh(sound, &candidate, taken.line).over_all
        });
        one > other.max(0.0) + BETTER
    }

    /// Pairs of peaks with a possible shift, most promising first.
    fn pairs(&self, peaks: &[Peak], taken: &[Taken]) -> Vec<[f64; 2]> {
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
        let mut rejected = self.rejected.iter();
        let tries = rejected
            .find(|r| is_same(&r.tones_hz, pair))
            .map(|r| r.tries);
        REFUSED.0 * tries.unwrap_or(0).min(REFUSED.1) as f32
    }

    /// Whether a signal is one that the settings ask for.
    fn is_wanted(&self, verdict: &Verdict) -> bool {
        let PairStart {
            mark_hz,
            space_hz,
            rate_baud,
            ..
        } = verdict.start;
        let (middle_hz, shift_hz) = ((mark_hz + space_hz) / 2.0, (mark_hz - space_hz).abs());
        let near = (shift_hz / 2.0).max(AT_HZ);
        let Settings { at_hz, sense, .. } = self.settings;
        at_hz.is_none_or(|at| (middle_hz - at).abs() < near)
            && (sense.is_none() || self.marks().contains(&verdict.mark))
            && self.fits_shift(shift_hz)
            && (self.settings.rate_baud)
                .is_none_or(|rate| (rate_baud / rate - 1.0).abs() < FORCED_RATE)
    }

    fn fits_shift(&self, shift_hz: f64) -> bool {
        let forced = self.settings.shift_hz;
        forced.is_none_or(|forced| (shift_hz - forced).abs() < FORCED_SHIFT_HZ)
    }

    /// How far a pair with its middle here lies from where one is asked for: 0 there, 1 where it
    /// would not be taken for it any more.
    fn far(&self, middle_hz: f64) -> f32 {
        let off = |at: f64| ((middle_hz - at).abs() / AT_HZ).min(1.0) as f32;
        self.settings.at_hz.map_or(0.0, off)
    }

    fn score(&self, a: &Peak, b: &Peak) -> Option<f32> {
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

    fn is_due(&mut self, pair: &[f64; 2], now_s: f64, last: bool) -> bool {
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

    fn reject(&mut self, pair: [f64; 2], now_s: f64) {
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
    fn long_trial_s(&self, pair: &[f64; 2]) -> Option<f64> {
        let mut rejected = self.rejected.iter();
        let tries = rejected.find(|r| is_same(&r.tones_hz, pair))?.tries as usize;
        (is_usual_shift(pair) && tries % 2 == 1).then(|| LONG_TRIALS_S[tries / 2 % 2])
    }

    fn try_pair(
        &mut self,
        sound: &Levelled,
        floor: &[f32],
        tones_hz: [f64; 2],
        (stand, taken): (&Stand, &[Taken]),
        now_s: f64,
    ) -> Option<Find> {
        let band = sound.band();
        let plan = band.plan();
        let oldest_s = plan.output_start(band.oldest_frame()).max(0) as f64 / plan.rate_hz;
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
        let mut verdict = self.judge.judge(sound, &candidate, &asked);
        if verdict.is_none() && (self.settings.rate_baud.is_some() || self.settings.sense.is_some())
        {
            let any = self.hypotheses(&Settings::default(), is_long);
            verdict = self.judge.judge(sound, &candidate, &any);
        }
        let verdict = verdict?;
        if self.is_splash(floor, &verdict) {
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
            instead_of: stand.instead_of.clone(),
            verdict,
        })
    }

    /// Whether a pair of no usual kind is no more than what something far stronger leaves all
    /// over the band: the clicks of its keying, and noise that the receiver's AGC lets through
    /// in its rhythm. Morse of 18 words a minute has the pace of characters at 105 baud.
    fn is_splash(&self, floor: &[f32], verdict: &Verdict) -> bool {
        let power = |hz: f64| self.spectrum.power_at(floor, hz);
        let own = power(verdict.start.mark_hz).max(power(verdict.start.space_hz));
        let is_forced = self.settings.shift_hz.is_some() || self.settings.rate_baud.is_some();
        !is_forced && !verdict.is_usual() && own < SPLASH * self.strongest
    }

    /// Where the tones of a pair came up within a stretch, s.
    fn came_s(
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
    fn since_s(
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

    fn candidate(
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
            noise_density: tones_hz.map(|hz| self.spectrum.element_noise(floor, hz, 1.0)),
            from_s,
            to_s,
        }
    }

    fn marks(&self) -> Vec<usize> {
        marks(&self.settings)
    }

    fn hypotheses(&self, settings: &Settings, is_long: bool) -> Hypotheses {
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

fn is_usual_shift(pair: &[f64; 2]) -> bool {
    let shift_hz = pair[1] - pair[0];
    usual::nearest(&usual::SHIFTS_HZ, shift_hz, 10.0 / shift_hz).is_some()
}

fn is_same(a: &[f64; 2], b: &[f64; 2]) -> bool {
    (a[0] - b[0]).abs() < 12.0 && (a[1] - b[1]).abs() < 12.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finder(settings: &Settings) -> Finder {
        Finder::new(BandPlan::new(8000.0), settings)
    }

    fn peak(hz: f64, ratio: f32) -> Peak {
        Peak {
            hz,
            ratio,
            power: ratio - 1.0,
            is_steady: false,
        }
    }

    #[test]
    fn pairs_have_a_possible_shift_and_the_lower_tone_first() {
        let peaks = [
            peak(1200.0, 9.0),
            peak(1000.0, 9.0),
            peak(2205.0, 9.0),
            peak(1230.0, 9.0),
        ];
        let mut pairs = finder(&Settings::default()).pairs(&peaks, &[]);
        pairs.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        let expected = [
            [1000.0, 1200.0],
            [1000.0, 1230.0],
            [1200.0, 2205.0],
            [1230.0, 2205.0],
        ];
        assert_eq!(pairs, expected);
    }

    #[test]
    fn a_usual_pair_that_was_rejected_is_heard_longer_every_other_time() {
        let mut finder = finder(&Settings::default());
        let (usual, other) = ([1000.0, 1170.0], [1000.0, 1300.0]);
        assert_eq!(
            finder.long_trial_s(&usual),
            None,
            "a short trial comes first"
        );
        let [shorter, longer] = LONG_TRIALS_S.map(Some);
        for long in [shorter, None, longer, None, shorter] {
            finder.reject(usual, 10.0);
            finder.reject(other, 10.0);
            assert_eq!(finder.long_trial_s(&usual), long);
            assert_eq!(finder.long_trial_s(&other), None);
        }
    }

    #[test]
    fn the_most_promising_pair_comes_first() {
        let first = |peaks: &[Peak]| finder(&Settings::default()).pairs(peaks, &[])[0];
        // A usual shift before an unusual one of the same strength.
        let usual = [peak(1000.0, 5.0), peak(1130.0, 5.0), peak(1170.0, 5.0)];
        assert_eq!(first(&usual), [1000.0, 1170.0]);
        // Two even tones before a strong and a weak one.
        let even = [
            peak(1000.0, 20.0),
            peak(1170.0, 1.5),
            peak(2300.0, 10.0),
            peak(2470.0, 10.0),
        ];
        assert_eq!(first(&even), [2300.0, 2470.0]);
    }

    #[test]
    fn a_forced_shift_is_the_only_one() {
        let forced = Settings {
            shift_hz: Some(200.0),
            ..Settings::default()
        };
        let finder = finder(&forced);
        for (shift, fits) in [(184.0, false), (186.0, true), (214.0, true), (216.0, false)] {
            assert_eq!(finder.fits_shift(shift), fits, "{shift} Hz");
            let wanted = finder.is_wanted(&verdict([1000.0, 1000.0 + shift]));
            assert_eq!(wanted, fits, "{shift} Hz");
        }
        // Others are heard after it, to be told of.
        let peaks = [peak(1000.0, 9.0), peak(1170.0, 9.0), peak(1371.0, 2.0)];
        assert_eq!(finder.pairs(&peaks, &[])[0], [1170.0, 1371.0]);
    }

    fn verdict([mark_hz, space_hz]: [f64; 2]) -> Verdict {
        Verdict {
            start: PairStart {
                at_s: 0.0,
                rate_baud: 50.0,
                mark_hz,
                space_hz,
                power: [1.0; 2],
                noise: [0.1; 2],
            },
            mark: usize::from(mark_hz > space_hz),
            evidence: 50.0,
        }
    }

    #[test]
    fn a_forced_place_wants_what_lies_near() {
        let forced = Settings {
            at_hz: Some(1600.0),
            ..Settings::default()
        };
        let finder = finder(&forced);
        for (low, wanted) in [
            (1210.0, false),
            (1220.0, true),
            (1810.0, true),
            (1820.0, false),
        ] {
            let wanted_there = finder.is_wanted(&verdict([low, low + 170.0]));
            assert_eq!(wanted_there, wanted, "{low} Hz");
        }
    }

    #[test]
    fn what_was_not_asked_for_is_not_wanted() {
        let found = verdict([1000.0, 1170.0]);
        let with = |sense, rate_baud| Settings {
            sense,
            rate_baud,
            ..Settings::default()
        };
        for (settings, wanted) in [
            (with(None, None), true),
            (with(Some(Sense::LowerTone), None), true),
            (with(Some(Sense::HigherTone), None), false),
            (with(None, Some(50.0)), true),
            (with(None, Some(45.45)), false),
        ] {
            assert_eq!(finder(&settings).is_wanted(&found), wanted, "{settings:?}");
        }
    }

    #[test]
    fn a_rejected_pair_waits_ever_longer() {
        let mut finder = finder(&Settings::default());
        let (pair, moved) = ([1000.0, 1170.0], [1005.0, 1165.0]);
        let mut now_s = 5.0;
        let mut waits = Vec::new();
        for _ in 0..12 {
            assert!(finder.is_due(&moved, now_s, false));
            finder.reject(pair, now_s);
            let from_s = now_s;
            while !finder.is_due(&moved, now_s, false) {
                assert!(
                    finder.is_due(&moved, now_s, true),
                    "the last look is always due"
                );
                now_s += 0.01;
            }
            waits.push(now_s - from_s);
        }
        assert!((waits[0] - 0.7).abs() < 0.02, "{waits:?}");
        assert!((waits[1] - 0.98).abs() < 0.02, "{waits:?}");
        assert!((waits[11] - 6.0).abs() < 0.02, "{waits:?}");
        assert!(finder.is_due(&[1020.0, 1170.0], 0.0, false), "another pair");
        assert_eq!(finder.rejected.len(), 1);
    }
}
