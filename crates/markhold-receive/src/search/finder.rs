//! The finder: which candidate is tried when, so that nothing is missed and little is
//! tried in vain.

use markhold_code::usual;
use markhold_signal::BandPlan;

use super::spectrum::{Peak, Spectrum};
use super::trial::{Candidate, Hypotheses, Judge, Verdict};
use crate::event::Sense;
use crate::levelled::Levelled;
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
/// Trials at one look.
const MOST_TRIALS: usize = 2;
/// Least and greatest shift, Hz, with room for errors of measurement.
const SHIFTS_HZ: (f64, f64) = (78.0, 1012.0);
/// A forced shift may differ by this much from the measured humps, Hz.
pub(crate) const FORCED_SHIFT_HZ: f64 = 15.0;
/// Tones nearer than this to one that is being copied belong to it, Hz.
const TAKEN_HZ: f64 = 35.0;
/// Between the tones of a shift below this there is no room for another signal, Hz.
const NARROW_HZ: f64 = 250.0;
/// A pair of the same shift within this of one being copied is the same, moved, Hz.
const MOVED_HZ: f64 = 90.0;
/// A signal that is asked for lies with its middle this near, or within half its shift, Hz.
pub(crate) const AT_HZ: f64 = 100.0;
/// For how long a signal that was not asked for is known, s.
const ELSEWHERE_S: f64 = 20.0;
/// The weaker tone of a pair has at least this share of the stronger one's power (-19 dB:
/// deep fading); what is weaker belongs to the stronger one's own spectrum.
const UNEVEN: f32 = 0.012;
/// Trials a second in the long run, and at most saved up.
const TRIALS_PER_S: f64 = 3.0;
const SAVED_TRIALS: f64 = 6.0;
/// First and longest wait before a rejected pair is tried again, s.
const WAITS_S: (f64, f64) = (0.7, 6.0);

/// A pair that was rejected.
struct Rejected {
    tones_hz: [f64; 2],
    again_s: f64,
    wait_s: f64,
    seen_s: f64,
    tries: u32,
}

/// Looks for pairs.
pub struct Finder {
    // configured
    settings: Settings,
    // derived
    judge: Judge,
    // state
    spectrum: Spectrum,
    rejected: Vec<Rejected>,
    /// Signals found where none was asked for, and when.
    elsewhere: Vec<([f64; 2], f64)>,
    /// Trials that may be made now.
    credit: f64,
}

impl Finder {
    /// A finder for one sampling plan.
    pub fn new(plan: BandPlan, settings: &Settings) -> Self {
        Self {
            settings: settings.clone(),
            judge: Judge::new(plan),
            spectrum: Spectrum::new(plan),
            rejected: Vec::new(),
            elsewhere: Vec::new(),
            credit: SAVED_TRIALS,
        }
    }

    /// Looks by other settings from now on. What was rejected or not wanted is judged again.
    pub fn set_settings(&mut self, settings: &Settings) {
        self.settings = settings.clone();
        self.rejected.clear();
        self.elsewhere.clear();
    }

    /// Takes in the latest frame of the band; looks for new pairs now and then. `taken_hz`
    /// are the pairs, lower tone first, that are being copied already. `last` looks in any case.
    pub fn look(
        &mut self,
        sound: &Levelled,
        taken_hz: &[[f64; 2]],
        now_s: f64,
        last: bool,
    ) -> Vec<Verdict> {
        let band = sound.band();
        let index = band.next_frame() - 1;
        if !last {
            self.spectrum
                .add(band.frame(index).expect("the latest frame is kept"));
        }
        if !self.spectrum.is_settled() || !(last || index.is_multiple_of(LOOK_FRAMES)) {
            return Vec::new();
        }
        let floor = self.spectrum.floor();
        let peaks = self.spectrum.peaks(&floor);
        self.rejected.retain(|r| now_s - r.seen_s < 10.0);
        let mut verdicts = Vec::new();
        self.elsewhere.retain(|e| now_s - e.1 < ELSEWHERE_S);
        let mut taken: Vec<[f64; 2]> = taken_hz.to_vec();
        taken.extend(self.elsewhere.iter().map(|e| e.0));
        let look_s = LOOK_FRAMES as f64 * band.plan().hop_s();
        self.credit = (self.credit + TRIALS_PER_S * look_s).min(SAVED_TRIALS);
        let mut trials = 0;
        for pair in self.pairs(&peaks) {
            if is_taken(&pair, &taken) {
                continue;
            }
            if trials == MOST_TRIALS || self.credit < 1.0 || !self.is_due(&pair, now_s, last) {
                continue;
            }
            trials += 1;
            self.credit -= 1.0;
            match self.try_pair(sound, &floor, pair, now_s) {
                Some(verdict) => {
                    taken.push(pair);
                    if self.is_wanted(&pair) {
                        verdicts.push(verdict);
                    } else {
                        self.elsewhere.push((pair, now_s));
                    }
                }
                None => self.reject(pair, now_s),
            }
        }
        verdicts
    }

    /// Pairs of peaks with a possible shift, most promising first.
    fn pairs(&self, peaks: &[Peak]) -> Vec<[f64; 2]> {
        let mut pairs: Vec<(f32, [f64; 2])> = Vec::new();
        for a in peaks {
            for b in peaks.iter().filter(|b| b.hz > a.hz) {
                if let Some(score) = self.score(a, b) {
                    pairs.push((score, [a.hz, b.hz]));
                }
            }
        }
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        pairs.into_iter().map(|p| p.1).collect()
    }

    fn is_wanted(&self, [low, high]: &[f64; 2]) -> bool {
        let near = ((high - low) / 2.0).max(AT_HZ);
        self.settings
            .at_hz
            .is_none_or(|at| ((low + high) / 2.0 - at).abs() < near)
    }

    fn score(&self, a: &Peak, b: &Peak) -> Option<f32> {
        let shift = b.hz - a.hz;
        let fits = match self.settings.shift_hz {
            Some(forced) => (shift - forced).abs() < FORCED_SHIFT_HZ,
            None => (SHIFTS_HZ.0..=SHIFTS_HZ.1).contains(&shift),
        };
        let (strong, weak) = (a.power.max(b.power), a.power.min(b.power));
        if weak < UNEVEN * strong {
            return None;
        }
        let usual = usual::nearest(&usual::SHIFTS_HZ, shift, 10.0 / shift).is_some();
        let (high, low) = (a.ratio.max(b.ratio).ln(), a.ratio.min(b.ratio).ln());
        fits.then_some(low + 0.3 * high + if usual { 0.7 } else { 0.0 })
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
        let (wait_s, tries) = match known.map(|at| self.rejected.swap_remove(at)) {
            Some(before) => ((before.wait_s * 1.4).min(WAITS_S.1), before.tries + 1),
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
        let shift_hz = pair[1] - pair[0];
        usual::nearest(&usual::SHIFTS_HZ, shift_hz, 10.0 / shift_hz)?;
        (tries % 2 == 1).then(|| LONG_TRIALS_S[tries / 2 % 2])
    }

    fn try_pair(
        &mut self,
        sound: &Levelled,
        floor: &[f32],
        tones_hz: [f64; 2],
        now_s: f64,
    ) -> Option<Verdict> {
        let band = sound.band();
        let plan = band.plan();
        let oldest_s = plan.output_start(band.oldest_frame()).max(0) as f64 / plan.rate_hz;
        let long_s = self.long_trial_s(&tones_hz);
        let is_long = long_s.is_some();
        let trial_s = long_s.unwrap_or(TRIAL_S);
        let from_s = (now_s - trial_s).max(oldest_s);
        if now_s - from_s < LEAST_TRIAL_S {
            return None;
        }
        let noise_density = tones_hz.map(|hz| self.spectrum.element_noise(floor, hz, 1.0));
        let candidate = Candidate {
            tones_hz,
            is_weak: is_long,
            noise_density,
            from_s,
            to_s: now_s,
        };
        let marks = match self.settings.sense {
            None => vec![0, 1],
            Some(Sense::LowerTone) => vec![0],
            Some(Sense::HigherTone) => vec![1],
        };
        let hypotheses = match self.settings.rate_baud {
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
        };
        self.judge.judge(sound, &candidate, &hypotheses)
    }
}

/// Whether a pair shares a tone with one that is being copied, lies in the spectrum of a
/// narrow one, or is that pair after somebody moved the dial: its follower will find it.
fn is_taken(pair: &[f64; 2], taken: &[[f64; 2]]) -> bool {
    taken.iter().any(|t| {
        let narrow = t[1] - t[0] < NARROW_HZ;
        let inside = |hz: &f64| (t[0] - TAKEN_HZ..t[1] + TAKEN_HZ).contains(hz);
        let shared = |hz: &f64| t.iter().any(|t| (t - hz).abs() < TAKEN_HZ);
        let moved = (0..2).all(|k| (t[k] - pair[k]).abs() < MOVED_HZ)
            && ((t[1] - t[0]) - (pair[1] - pair[0])).abs() < 20.0;
        moved || pair.iter().any(|hz| shared(hz) || narrow && inside(hz))
    })
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
        let mut pairs = finder(&Settings::default()).pairs(&peaks);
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
        let first = |peaks: &[Peak]| finder(&Settings::default()).pairs(peaks)[0];
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
            let score = finder.score(&peak(1000.0, 5.0), &peak(1000.0 + shift, 5.0));
            assert_eq!(score.is_some(), fits, "{shift} Hz");
        }
    }

    #[test]
    fn a_forced_place_wants_what_lies_there() {
        let forced = Settings {
            at_hz: Some(1600.0),
            ..Settings::default()
        };
        let finder = finder(&forced);
        for (low, wanted) in [
            (1410.0, false),
            (1420.0, true),
            (1610.0, true),
            (1620.0, false),
        ] {
            assert_eq!(finder.is_wanted(&[low, low + 170.0]), wanted, "{low} Hz");
        }
    }

    #[test]
    fn what_is_copied_already_is_taken() {
        let (narrow, wide) = ([1000.0, 1170.0], [1000.0, 1850.0]);
        let table = [
            // the pair; taken beside the narrow one, beside the wide one
            ([1000.0, 1170.0], true, true),
            ([1034.0, 1600.0], true, true),
            ([700.0, 1001.0], true, true),
            ([1085.0, 1500.0], true, false),
            ([500.0, 1204.0], true, false),
            ([500.0, 670.0], false, false),
            ([1300.0, 1470.0], false, false),
            // The dial was moved: the same shift at another place.
            ([1080.0, 1250.0], true, false),
            ([1080.0, 1930.0], true, true),
            ([910.5, 1085.0], true, false),
            ([1206.0, 1376.0], false, false),
            ([1206.0, 1880.0], false, true),
        ];
        for (pair, beside_narrow, beside_wide) in table {
            assert_eq!(
                is_taken(&pair, &[narrow]),
                beside_narrow,
                "{pair:?}, narrow"
            );
            assert_eq!(is_taken(&pair, &[wide]), beside_wide, "{pair:?}, wide");
            assert!(!is_taken(&pair, &[]));
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
