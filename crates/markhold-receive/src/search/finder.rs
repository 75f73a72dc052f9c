//! The finder: which candidate is tried when, so that nothing is missed and little is
//! tried in vain.
//!
//! `promise`: which pair comes first, and for how long what was refused waits. `trying`: the trial
//! of one pair, and what it would take the place of. `misread`: whether what is copied badly is a
//! line of another kind. `single`: tones that no other is keyed against.

pub(crate) mod misread;
mod promise;
mod single;
#[cfg(test)]
mod tests;
mod trying;

use std::collections::VecDeque;

use markhold_signal::BandPlan;

use super::passband::Passband;
use super::spectrum::{AVERAGE_S, HUMP_HZ, LATE_AVERAGE_S, Spectrum};
use super::trial::{Candidate, Judge, Verdict};
use super::turned::{Averages, Beside, Taken, is_same_place};
use crate::levelled::Levelled;
use crate::settings::Settings;
use promise::Rejected;

/// Frames from one look at the spectrum to the next: a quarter of a second.
const LOOK_FRAMES: u64 = 8;
/// Length of sound a trial listens to, s.
const TRIAL_S: f64 = 8.0;
/// A forced shift may differ by this much from the measured humps, Hz.
pub(crate) const FORCED_SHIFT_HZ: f64 = 15.0;
/// A pair takes the place of one that is being copied if its evidence for the latest sound,
/// over all other explanations, is more by this than that of the other.
const BETTER: f32 = 32.0;
/// Evidence is compared over this long before and after a pair came, s.
const COMPARED_S: f64 = 4.0;
/// Frames from one comparison of what is taken to the next: a second.
const COMPARE_FRAMES: u64 = 32;
/// Frames from one question whether what is taken is swept to the next: two seconds.
const SWEPT_FRAMES: u64 = 64;
/// How far copying looks back, s; more if it took a longer trial to find a pair.
pub(crate) const LOOK_BACK_S: f64 = 14.0;
/// A tone is worth a trial if it was heard in the latest part of what a trial listens to, s:
/// in the average a strong one lingers for twice as long after it has gone.
const HEARD_S: f64 = 6.0;
/// For how long a signal that was not asked for is known, s.
const ELSEWHERE_S: f64 = 20.0;
/// Trials a second in the long run, and at most saved up; in what [`Judge::spent`] counts.
const TRIALS_PER_S: f64 = 1.0;
const SAVED_TRIALS: f64 = 8.0;

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
#[derive(Default)]
struct Stand {
    /// Those it must explain better than.
    instead_of: Vec<usize>,
    /// Those that it explains better if it is a line at all.
    outright: Vec<usize>,
    turned: bool,
    shared: bool,
}

/// One look at the band.
struct Search<'a> {
    sound: &'a Levelled,
    floor: &'a [f32],
    taken: &'a [Taken],
    now_s: f64,
    last: bool,
    /// Tones of what was found in it.
    fresh: Vec<[f64; 2]>,
    finds: Vec<Find>,
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
    /// Tones that are surely not keyed, Hz.
    carriers: Vec<f64>,
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
            carriers: Vec::new(),
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
        self.carriers = self.spectrum.carriers(&floor);
        self.listen(&late_floor, now_s);
        peaks.retain(|peak| self.was_heard(peak.hz));
        let floors = [&floor[..], &late_floor];
        self.rejected.retain(|r| now_s - r.seen_s < 10.0);
        self.elsewhere.retain(|e| now_s - e.1 < ELSEWHERE_S);
        let look_s = LOOK_FRAMES as f64 * band.plan().hop_s();
        self.credit = (self.credit + TRIALS_PER_S * look_s).min(SAVED_TRIALS);
        let mut search = Search {
            sound,
            floor: &floor,
            taken,
            now_s,
            last,
            fresh: Vec::new(),
            finds: Vec::new(),
        };
        for pair in self.pairs(&peaks, taken) {
            if let Some(stand) = self.stand(pair, taken, &search.fresh, floors) {
                if self.credit < 0.0 {
                    break;
                }
                self.try_in(&mut search, pair, |finder, search| {
                    finder.try_pair(search.sound, search.floor, pair, (&stand, taken), now_s)
                });
            }
        }
        self.try_single_tones(&mut search, &peaks);
        search.finds
    }

    /// Tries what is due, keeps what was found or that it was not.
    fn try_in(
        &mut self,
        search: &mut Search,
        tones_hz: [f64; 2],
        trial: impl FnOnce(&mut Self, &Search) -> Option<Find>,
    ) {
        if !self.is_due(&tones_hz, search.now_s, search.last) {
            return;
        }
        match trial(self, search) {
            Some(find) => {
                search.fresh.push(tones_hz);
                if self.is_wanted(&find.verdict) {
                    search.finds.push(find);
                } else {
                    self.elsewhere.push((tones_hz, search.now_s));
                    self.heard_elsewhere = Some(find.verdict);
                }
            }
            None => self.reject(tones_hz, search.now_s),
        }
        self.credit -= self.judge.spent();
    }

    /// Floors of both averages.
    fn floors(&self, sound: &Levelled) -> [Vec<f32>; 2] {
        let passband = passband(sound, |hz| self.spectrum.between(hz));
        [&self.spectrum, &self.late].map(|average| average.floor(&passband))
    }

    /// The floor of the long average where lines that vary together are taken for noise.
    fn clutter(&self, sound: &Levelled) -> Vec<f32> {
        self.spectrum.floor(&passband(sound, |_| f32::INFINITY))
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
        let mut stand = Stand::default();
        let mut shares: Vec<[f64; 2]> = Vec::new();
        for other in fresh.iter().chain(self.elsewhere.iter().map(|e| &e.0)) {
            match averages.beside(pair, *other) {
                Beside::Barred => return None,
                Beside::Shared => shares.push(*other),
                Beside::Rival | Beside::Free => {}
            }
        }
        for (i, taken) in taken.iter().enumerate() {
            if let Some(missing) = taken.missing {
                // Both of its tones explain more than one of them.
                let hz = taken.tones_hz[1 - missing];
                if pair.iter().any(|tone| (tone - hz).abs() < HUMP_HZ) {
                    stand.outright.push(i);
                }
                continue;
            }
            let other = taken.tones_hz;
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
                if one.missing.is_some() || other.missing.is_some() {
                    return false;
                }
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

    /// Evidence that pairs that are taken are swept, of the latest sound since that was last asked
    /// for, if it is time to ask: what was found may have been so as far as could be told, or a
    /// picture follows on the same frequency. To be asked right after [`Finder::look`].
    pub fn swept(&mut self, sound: &Levelled, taken: &[Taken], now_s: f64) -> Option<Vec<f32>> {
        let index = sound.band().next_frame() - 1;
        if taken.is_empty() || !index.is_multiple_of(SWEPT_FRAMES) || !self.spectrum.is_settled() {
            return None;
        }
        let [floor, _] = self.floors(sound);
        let since_s = now_s - SWEPT_FRAMES as f64 * sound.band().plan().hop_s();
        let stretch = (since_s.max(sound.oldest_s()), now_s);
        let swept = |taken: &Taken| {
            let candidate = Candidate {
                missing: taken.missing,
                power: Some(taken.power),
                ..self.candidate(&floor, taken.tones_hz, false, stretch)
            };
            self.judge.swept(sound, &candidate)
        };
        Some(taken.iter().map(swept).collect())
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
}

/// The passband of what is heard, if there is enough of it; `between` as of [`Passband::new`].
fn passband(sound: &Levelled, between: impl Fn(f64) -> f32) -> Passband {
    let bins = sound.bins();
    bins.map_or_else(Passband::default, |(bins, bin_hz)| {
        Passband::new(&bins, bin_hz, between)
    })
}
