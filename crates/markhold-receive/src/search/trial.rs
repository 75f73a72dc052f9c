//! The trial: is this pair of tones a start-stop line, at which rate, and which is mark?
//!
//! Every hypothesis gets its evidence: the likelihood of the latest seconds under the
//! framing model, summed over all texts. It must beat noise, a steady tone, and a line
//! that is keyed at the same rate without start and stop, by a margin.

use std::cell::Cell;

use markhold_code::usual;
use markhold_signal::{BandPlan, Complex32, bessel::LnI0, running::RunningSum};

use super::rivals::{bursts, one_line, one_tone, rivals, steady, two_carriers};
use super::swept::{self, Sweeps};
use crate::characters::framing::{Carry, LinePriors, evidence_of, frame};
use crate::characters::reading::{Reading, read};
use crate::elements::{Elements, ToneOnGrid};
use crate::levelled::Levelled;
use crate::pair::follower::PairStart;
use crate::pair::gains::{Showing, follow_power};
use crate::pair::tones::{Grid, ToneCutter, ToneStream, clear_on_grid, sums_on_grid};
use crate::pair::track::Track;

/// Element that stands for all rates while levels are measured, s.
const PROBE_S: f64 = 0.02;
/// Steps of the level grid in one probe.
const PROBE_STEPS: usize = 4;
/// Grid points to the element in a trial: half of what copying uses.
const STEPS: usize = 8;
/// Grid points at either end of an element that do not count where a usual pair is explained
/// by nothing else: a bias of 40 % of an element, moved half to either side, keeps out of the
/// rest. That costs 3 dB, so that it is no first choice.
const DISTORTED_STEPS: usize = 2;
/// Evidence by which that must beat all that is usual: weak signals, found a little later as
/// they are, reach 50.
const DISTORTED_EVIDENCE: f32 = 60.0;
/// The certainty of strong tones ends at an energy of 30 noise densities in 22 ms: below
/// the bound of the elements themselves, which would favour short ones.
const STRONG_S: f32 = 0.022 / 30.0;
/// Evidence, in natural logarithm, by which a start-stop line must beat all else: a false
/// one in noise once in some hundred million trials.
const LEAST_EVIDENCE: f32 = 32.0;
/// Least distance of the tones as measured, Hz: 85 less an error.
const LEAST_SHIFT_HZ: f64 = 75.0;
/// Characters that must have been heard.
const LEAST_CHARACTERS: usize = 4;
/// A line idles for most of the time where it has fewer characters a second, a tenth of its pace, and a
/// tone that stands explains this share of what it does.
const SLOW: f64 = 0.7;
const STANDS: f32 = 0.9;
/// Ratio of neighbouring rates when all between 40 and 110 baud are tried: an element five
/// places after the start is then less than a tenth of an element off.
const RATE_RATIO: f64 = 1.03;

/// Rates that differ by more than this, as a natural logarithm, are quite other ones.
const OTHER_RATE: f64 = 0.15;
/// A usual rate within this share of the best one is taken instead, unless the evidence
/// against it is this strong: a few seconds of weak signal do not tell rates apart.
const SNAP_SHARE: f64 = 0.03;
const SNAP_EVIDENCE: f32 = 10.0;
/// What a hypothesis must bring more if its rate, or its shift, is none of the usual ones
/// (as measured: carriers keyed by hand pass for a start-stop line of some odd kind now and
/// then in an hour, with evidence up to 46).
const UNUSUAL_RATE_EVIDENCE: f32 = 18.0;
const UNUSUAL_SHIFT_EVIDENCE: f32 = 12.0;
/// What a line of which one tone is not sent must bring more: nothing but its rhythm tells it
/// from Morse and from all that is keyed.
const ONE_TONE_EVIDENCE: f32 = 30.0;
/// How far a usual rate may be off, as a share, and a usual shift as measured, Hz.
const USUAL_RATE: f64 = 0.012;
const USUAL_SHIFT_HZ: f64 = 10.0;

/// A stretch of sound with two tones to be tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Frequencies of the lower and the higher tone, Hz.
    pub tones_hz: [f64; 2],
    /// Whether it may be too weak to stand out by itself in every element.
    pub is_weak: bool,
    /// Whether one of its tones is known to be another pair's.
    pub is_shared: bool,
    /// Which of its tones is not sent at all, if one is not: 0 the lower, 1 the higher.
    pub missing: Option<usize>,
    /// Noise power per baud of modulation rate at each tone.
    pub noise_density: [f32; 2],
    /// From when to when, s.
    pub from_s: f64,
    /// End of the stretch, s.
    pub to_s: f64,
}

/// What is tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Hypotheses {
    /// Modulation rates to be tried first, baud.
    pub rates_baud: Vec<f64>,
    /// Those to be tried if none of the first will do.
    pub else_rates_baud: Vec<f64>,
    /// Which tone may be mark: 0 the lower, 1 the higher.
    pub marks: Vec<usize>,
    /// Whether the best rate may be refined.
    pub refine: bool,
}

/// A pair that was found to be a start-stop line.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// How to begin to follow it.
    pub start: PairStart,
    /// Which tone is mark: 0 the lower, 1 the higher.
    pub mark: usize,
    /// By how much the line beats all else.
    pub evidence: f32,
    /// Which tone is not sent at all, if one is not: 0 the lower, 1 the higher.
    pub missing: Option<usize>,
}

impl Verdict {
    /// Whether both rate and shift are usual ones.
    pub fn is_usual(&self) -> bool {
        is_usual_rate(self.start.rate_baud) && self.has_usual_shift()
    }

    /// The tone of a line of one tone alone, Hz.
    pub fn tone_alone(&self) -> Option<f64> {
        let missing_is_mark = self.missing? == self.mark;
        Some(match missing_is_mark {
            true => self.start.space_hz,
            false => self.start.mark_hz,
        })
    }

    /// Whether the shift is a usual one.
    pub fn has_usual_shift(&self) -> bool {
        is_usual_shift((self.start.mark_hz - self.start.space_hz).abs())
    }
}

/// What speaks for a line, natural logarithm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weight {
    /// Evidence over noise alone.
    pub over_noise: f32,
    /// Evidence over the best other explanation.
    pub over_all: f32,
}

/// What the steps of a trial of [`TRIAL_S`] take, in units of one that is refused after the
/// usual rates: the two tones cut out, all usual rates weighed, their middles alone, all
/// rates roughly.
const PROBED: f64 = 0.3;
const WEIGHED: f64 = 0.7;
const MIDDLES: f64 = 1.0;
const ALL_RATES: f64 = 2.0;
/// The length of sound for which that holds, s.
const TRIAL_S: f64 = 8.0;
/// What a stretch with both tones weighs for a pair to be worth a trial, and for one that needs
/// to show that both tones belong to it: a carrier between the tones of a pair reaches into
/// both in so short a time.
const BOTH: [f32; 2] = [1.0, 3.0];
/// Samples a second of the streams of a trial.
const STREAM_HZ: f64 = 1000.0;
/// Grid points to the element where one of many rates is looked for.
const ROUGH_STEPS: usize = 4;
/// All rates are tried where a usual one, wrong as it may be, has this much evidence: one
/// keyed line of any rate has it.
const SOME_EVIDENCE: f32 = 16.0;
/// Of what a line needs, a rate has at least this share as roughly looked for.
const ROUGHLY: f32 = 0.3;

/// Tries pairs.
pub struct Judge {
    cutter: ToneCutter,
    sweeps: Sweeps,
    ln_i0: LnI0,
    priors: LinePriors,
    rough_priors: LinePriors,
    spent: f64,
    /// Whether what was last taken for a line beats all else, and idles for most of the time.
    idles: Cell<bool>,
}

/// What is taken for a line.
#[derive(Clone, Copy, Debug)]
struct Best {
    rate: f64,
    mark: usize,
    /// Evidence over noise.
    evidence: f32,
    /// Value of the measure by which it is compared with others.
    value: f32,
}

/// A measure by which rates and senses are compared: of elements, and the evidence of a line in them.
type Measure = fn(&Elements, f32) -> f32;

/// Two tones of a candidate, ready for any rate.
struct Probe {
    tones_hz: [f64; 2],
    sums: [RunningSum; 2],
    /// Clear sound up to each point of the level grid, s.
    clear: Vec<f32>,
    /// Power of each tone on the level grid.
    power: [Vec<f32>; 2],
    levels: Grid,
    density: [f32; 2],
    from_s: f64,
    to_s: f64,
    /// Grid points that do not count at either end of an element.
    trim: usize,
    /// Whether one of the tones may have nothing to do with the other.
    is_doubtful: bool,
    missing: Option<usize>,
}

impl Judge {
    /// A judge for one sampling plan.
    pub fn new(plan: BandPlan) -> Self {
        Self {
            cutter: ToneCutter::with_stream(plan, 1.0 / PROBE_S, STREAM_HZ),
            sweeps: Sweeps::new(plan),
            ln_i0: LnI0::default(),
            priors: LinePriors::unknown(STEPS),
            rough_priors: LinePriors::unknown(ROUGH_STEPS),
            spent: 0.0,
            idles: Cell::new(false),
        }
    }

    /// What trials took since this was last asked, in units of one of 8 s that is refused after
    /// the usual rates.
    pub fn spent(&mut self) -> f64 {
        std::mem::take(&mut self.spent)
    }

    /// All rates between 40 and 110 baud.
    pub fn all_rates() -> Vec<f64> {
        std::iter::successors(Some(40.0), |r| Some(r * RATE_RATIO))
            .take_while(|r| *r < 111.0)
            .collect()
    }

    /// Whether what was tried last is a line that idles for most of the time: one that is refused was
    /// heard for too few characters.
    pub fn idles(&self) -> bool {
        self.idles.get()
    }

    /// Tries a candidate; `None` if something else explains it better.
    pub fn judge(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        self.idles.set(false);
        let verdict = self.judge_line(sound, candidate, hypotheses)?;
        if verdict.missing.is_none() && !verdict.start.is_heard() {
            return None;
        }
        (self.swept(sound, candidate) < swept::LEAST_EVIDENCE).then_some(verdict)
    }

    /// Evidence that the tones are no more than places that one tone passes.
    pub fn swept(&mut self, sound: &Levelled, candidate: &Candidate) -> f32 {
        let sent = match candidate.missing {
            None => 0..2,
            Some(missing) => 1 - missing..2 - missing,
        };
        self.sweeps.evidence(
            sound.band(),
            &candidate.tones_hz[sent.clone()],
            &candidate.noise_density[sent],
            (candidate.from_s, candidate.to_s),
        )
    }

    fn judge_line(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let share = (candidate.to_s - candidate.from_s) / TRIAL_S;
        self.spent += PROBED * share;
        let mut probe = self.probe(sound, candidate)?;
        if candidate.missing.is_none() && !self.is_one_line(&probe) {
            return None;
        }
        self.spent += WEIGHED * share;
        let usual = (&hypotheses.rates_baud[..], &hypotheses.marks[..]);
        let best = self.best(&probe, usual, over_noise)?;
        let verdict = self.judge_best(&probe, best, hypotheses, over_noise);
        if self.idles() {
            let best = self.best(&probe, usual, over_steady)?;
            let other = self.judge_best(&probe, best, hypotheses, over_steady);
            // By either measure it has to be that kind of line.
            if self.idles() {
                return self.by_what_is_framed(&probe, other?, hypotheses);
            }
        }
        if let Some(verdict) = verdict {
            return self.by_what_is_framed(&probe, verdict, hypotheses);
        }
        if candidate.missing.is_some() {
            return None;
        }
        if !probe.is_doubtful && is_usual_shift(probe.tones_hz[1] - probe.tones_hz[0]) {
            self.spent += MIDDLES * share;
            if let Some(verdict) = self.judge_distorted(&mut probe, hypotheses) {
                return Some(verdict);
            }
        }
        if best.evidence < SOME_EVIDENCE || hypotheses.else_rates_baud.is_empty() {
            return None;
        }
        self.spent += ALL_RATES * share;
        let verdict = self.judge_all_rates(&probe, hypotheses)?;
        self.by_what_is_framed(&probe, verdict, hypotheses)
    }

    /// The rate and sense of a line that was found: where by what framing explains another one is
    /// the better, that one, if it is a line as well. Two ways to compare must both see a line, so
    /// that this finds none where none is. An unusual rate has to be the better one by what it needs
    /// more, or to beat all else by more.
    fn by_what_is_framed(
        &self,
        probe: &Probe,
        verdict: Verdict,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let by: Measure = over_keyed;
        let found = self.weighed(probe, verdict.start.rate_baud, verdict.mark, by);
        let usual = (&hypotheses.rates_baud[..], &hypotheses.marks[..]);
        let best = self.best(probe, usual, by)?;
        let is_same = best.mark == found.mark && (best.rate / found.rate).ln().abs() < OTHER_RATE;
        let stands = |line: &Best| line.value - needed(probe, line.rate);
        if is_same || stands(&best) <= stands(&found) {
            return Some(verdict);
        }
        let is_better = best.value > found.value;
        let other = self.judge_best(probe, best, hypotheses, by);
        if is_better {
            return other;
        }
        let stronger = other.filter(|other| other.evidence > verdict.evidence);
        stronger.or(Some(verdict))
    }

    fn judge_all_rates(&self, probe: &Probe, hypotheses: &Hypotheses) -> Option<Verdict> {
        let roughly = |rate: f64, mark: usize| {
            let elements = self.elements(probe, rate, mark, ROUGH_STEPS);
            evidence_of(&elements, &self.rough_priors, &Carry::nothing())
        };
        let rates = hypotheses.else_rates_baud.iter();
        let all = rates.flat_map(|rate| hypotheses.marks.iter().map(|mark| (*rate, *mark)));
        let rough = all.map(|(rate, mark)| (rate, mark, roughly(rate, mark)));
        let (rate, mark, evidence) = rough.max_by(|a, b| a.2.total_cmp(&b.2))?;
        if evidence < ROUGHLY * LEAST_EVIDENCE {
            return None;
        }
        let best = self.weighed(probe, rate, mark, over_noise);
        self.judge_best(probe, best, hypotheses, over_noise)
    }

    /// Whether the middles of elements alone are a line of a usual kind.
    fn judge_distorted(&self, probe: &mut Probe, hypotheses: &Hypotheses) -> Option<Verdict> {
        probe.trim = DISTORTED_STEPS;
        let verdict = self.judge_middles(probe, hypotheses);
        probe.trim = 0;
        verdict
    }

    /// Middles fit much: the other sense, another rate, reversals. All that is usual is tried,
    /// and one must stand out of it.
    fn judge_middles(&self, probe: &Probe, hypotheses: &Hypotheses) -> Option<Verdict> {
        let rates = &hypotheses.rates_baud;
        let Best {
            rate,
            mark,
            evidence,
            ..
        } = self.best(probe, (rates, &[0, 1]), over_noise)?;
        if evidence < DISTORTED_EVIDENCE {
            return None;
        }
        let of = |other: &f64| {
            let rivals = rivals(&self.elements(probe, *other, mark, STEPS));
            let line = |mark| self.weighed(probe, *other, mark, over_noise).evidence;
            match *other == rate {
                true => rivals,
                false => rivals.max(line(0)).max(line(1)),
            }
        };
        let margin = evidence - rates.iter().map(of).fold(0.0, f32::max);
        let verdict = Verdict {
            start: start_of(probe, rate, mark),
            mark,
            evidence: margin,
            missing: probe.missing,
        };
        let is_clear = margin > DISTORTED_EVIDENCE && hypotheses.marks.contains(&mark);
        (is_clear && verdict.is_usual()).then_some(verdict)
    }

    /// Evidence of a line of this rate and mark on a candidate: over noise alone, and over
    /// all that else might explain it.
    pub fn weigh(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        (rate_baud, mark): (f64, usize),
    ) -> Weight {
        let Some(probe) = self.probe(sound, candidate) else {
            return Weight::default();
        };
        let elements = self.elements(&probe, rate_baud, mark, STEPS);
        let over_noise = self.line(&elements);
        Weight {
            over_noise,
            over_all: over_noise - rivals(&elements),
        }
    }

    /// Whether what is taken for a line beats all else.
    fn judge_best(
        &self,
        probe: &Probe,
        mut best: Best,
        hypotheses: &Hypotheses,
        by: Measure,
    ) -> Option<Verdict> {
        self.idles.set(false);
        if hypotheses.refine && best.evidence > 0.0 {
            best = self.refine(probe, best, by);
            best = self.snap(probe, best, by);
        }
        if best.evidence < LEAST_EVIDENCE {
            return None;
        }
        let Best { rate, mark, .. } = best;
        let elements = self.elements(probe, rate, mark, STEPS);
        let margin = best.evidence - self.rivals(probe, &elements);
        let framed = frame(&elements, &self.priors, &Carry::nothing());
        let heard = read(&framed, &elements);
        if is_rhythm(&heard) && !is_usual_rate(rate) {
            return None;
        }
        if probe.missing.is_some() && is_few_codes(&heard) {
            return None;
        }
        if margin < needed(probe, rate) {
            return None;
        }
        let is_slow = (heard.len() as f64) < SLOW * (probe.to_s - probe.from_s);
        self.idles
            .set(is_slow && steady(&elements) > STANDS * best.evidence);
        (heard.len() >= LEAST_CHARACTERS).then(|| Verdict {
            start: start_of(probe, rate, mark),
            mark,
            evidence: margin,
            missing: probe.missing,
        })
    }

    /// Evidence of the best other explanation.
    fn rivals(&self, probe: &Probe, elements: &Elements) -> f32 {
        let others = rivals(elements);
        match probe.is_doubtful {
            true => others.max(one_tone(elements, |e| self.line(e))),
            false => others,
        }
    }

    fn probe(&mut self, sound: &Levelled, candidate: &Candidate) -> Option<Probe> {
        let (from_s, to_s) = (candidate.from_s, candidate.to_s);
        let streams = candidate
            .tones_hz
            .map(|hz| self.cutter.cut(sound.band(), hz, from_s, to_s));
        let points = ((to_s - from_s) / PROBE_S * PROBE_STEPS as f64) as usize;
        let levels = Grid {
            begin_s: from_s,
            step_s: PROBE_S / PROBE_STEPS as f64,
            steps: PROBE_STEPS,
            points,
        };
        let noise = candidate.noise_density.map(|d| d / PROBE_S as f32);
        let rough = Showings::new(&streams, candidate.tones_hz, &levels, noise);
        if rough.exclusive(noise, candidate.is_weak, BOTH[0]) <= 0.0 {
            return None;
        }
        let offsets_hz = [0, 1].map(|k| rough.offset_hz(k));
        let offset_hz = |k: usize| match candidate.missing {
            Some(missing) => offsets_hz[1 - missing],
            None => offsets_hz[k],
        };
        let tones_hz = [0, 1].map(|k| candidate.tones_hz[k] + offset_hz(k));
        if tones_hz[1] - tones_hz[0] < LEAST_SHIFT_HZ {
            return None;
        }
        let better = Showings::new(&streams, tones_hz, &levels, noise);
        if !better.is_keyed(noise) {
            return None;
        }
        let power = [0, 1].map(|k| match candidate.missing == Some(k) {
            true => vec![0.0; points.max(1)],
            false => better.power(k, noise[k], points, &self.ln_i0),
        });
        Some(Probe {
            tones_hz,
            clear: clear_on_grid(sound, &levels)
                .iter()
                .map(|c| c * PROBE_S as f32)
                .collect(),
            sums: better.sums,
            power,
            levels,
            density: candidate.noise_density,
            from_s,
            to_s,
            trim: 0,
            is_doubtful: candidate.missing.is_none()
                && (candidate.is_shared
                    || rough.exclusive(noise, candidate.is_weak, BOTH[1]) <= 0.0),
            missing: candidate.missing,
        })
    }

    /// Whether one keyed line explains both tones better than two carriers that are keyed
    /// each for itself, whatever the rate: a cheap question that most other sound fails.
    fn is_one_line(&self, probe: &Probe) -> bool {
        [48.0, 85.0].into_iter().any(|rate| {
            let elements = self.elements(probe, rate, 0, ROUGH_STEPS);
            one_line(&elements) > two_carriers(&elements)
        })
    }

    /// The best line by one of its measures.
    fn best(&self, probe: &Probe, (rates, marks): (&[f64], &[usize]), by: Measure) -> Option<Best> {
        let all = rates
            .iter()
            .flat_map(|rate| marks.iter().map(|mark| (*rate, *mark)));
        let weighed = all.map(|(rate, mark)| self.weighed(probe, rate, mark, by));
        weighed.max_by(|a, b| a.value.total_cmp(&b.value))
    }

    fn weighed(&self, probe: &Probe, rate: f64, mark: usize, by: Measure) -> Best {
        let elements = self.elements(probe, rate, mark, STEPS);
        let evidence = self.line(&elements);
        Best {
            rate,
            mark,
            evidence,
            value: by(&elements, evidence),
        }
    }

    /// Evidence of a line of an unknown sender.
    fn line(&self, elements: &Elements) -> f32 {
        evidence_of(elements, &self.priors, &Carry::nothing())
    }

    /// Climbs to the best rate nearby, by ever smaller steps.
    fn refine(&self, probe: &Probe, mut best: Best, by: Measure) -> Best {
        for part in [0.015, 0.007, 0.0035, 0.0018, 0.0009] {
            for factor in [1.0 + part, 1.0 - part] {
                let other = self.weighed(probe, best.rate * factor, best.mark, by);
                if other.value > best.value {
                    best = other;
                }
            }
        }
        best
    }

    /// Takes the usual rate nearby where the evidence does not argue against it.
    fn snap(&self, probe: &Probe, best: Best, by: Measure) -> Best {
        let Some(usual) = usual::nearest(&usual::RATES_BAUD, best.rate, SNAP_SHARE) else {
            return best;
        };
        let usual = self.weighed(probe, usual, best.mark, by);
        match usual.value > best.value - SNAP_EVIDENCE {
            true => usual,
            false => best,
        }
    }

    fn elements(&self, probe: &Probe, rate: f64, mark: usize, steps: usize) -> Elements {
        let step_s = 1.0 / rate / steps as f64;
        let points = ((probe.to_s - probe.from_s) / step_s) as usize;
        let grid = Grid {
            begin_s: probe.from_s,
            step_s,
            steps,
            points,
        };
        let tone = |k: usize| ToneOnGrid {
            sums: sums_on_grid(&probe.sums[k], &grid),
            power: (0..=points)
                .map(|i| probe.power_at(k, grid.at(i as f64)))
                .collect(),
            noise: (0..=points)
                .map(|i| probe.noise_at(k, grid.at(i as f64)) * rate as f32)
                .collect(),
        };
        let clear: Vec<f32> = (0..=points)
            .map(|i| probe.clear_at(grid.at(i as f64)) * rate as f32)
            .collect();
        Elements::weigh_middles(
            (steps, probe.trim * steps / STEPS),
            points,
            &tone(mark),
            &tone(1 - mark),
            &clear,
            &self.ln_i0,
        )
    }
}

impl Probe {
    fn clear_at(&self, t: f64) -> f32 {
        let place = ((t - self.levels.begin_s) / self.levels.step_s).max(0.0);
        let i = (place as usize).min(self.clear.len().saturating_sub(2));
        self.clear[i] + (self.clear[i + 1] - self.clear[i]) * (place - i as f64).min(1.0) as f32
    }

    /// Noise power per baud; where a tone is strong, as much as leaves every rate the same
    /// certainty in the same time.
    fn noise_at(&self, k: usize, t: f64) -> f32 {
        self.density[k].max(self.power_at(k, t) * STRONG_S)
    }

    fn power_at(&self, k: usize, t: f64) -> f32 {
        let i = ((t - self.levels.begin_s) / self.levels.step_s) as usize;
        self.power[k][i.min(self.power[k].len() - 1)]
    }
}

fn over_noise(_: &Elements, evidence: f32) -> f32 {
    evidence
}

/// Evidence over that of a tone that stands, for a line that idles: longer elements have more for any
/// tone, and that tells nothing of the rate. Where little idles, what lies between the tones weighs
/// more in it.
fn over_steady(elements: &Elements, evidence: f32) -> f32 {
    evidence - steady(elements).max(0.0)
}

/// The same, and over that of elements that come in any order and rest in between: what framing alone
/// explains. Seconds of idling would outweigh the first characters; shorter elements follow a line of
/// any rate.
fn over_keyed(elements: &Elements, evidence: f32) -> f32 {
    evidence - steady(elements).max(bursts(elements)).max(0.0)
}

/// Whether all characters are the same: reversals, or some machine's beat, rather than text.
fn is_rhythm(heard: &[Reading]) -> bool {
    let same = heard
        .windows(2)
        .filter(|pair| pair[0].best() == pair[1].best())
        .count();
    10 * same > 8 * heard.len()
}

/// Whether four codes make up most of it. Morse of the pace of an element is made of a few marks,
/// and so are a few codes; the four commonest of English text, the space among them, are less
/// than half of it. Test rows of two letters have to wait for text.
fn is_few_codes(heard: &[Reading]) -> bool {
    let mut counts = [0; 32];
    for reading in heard {
        counts[reading.best()] += 1;
    }
    counts.sort_unstable();
    10 * counts[28..].iter().sum::<usize>() > 8 * heard.len()
}

fn is_usual_rate(rate: f64) -> bool {
    usual::nearest(&usual::RATES_BAUD, rate, USUAL_RATE).is_some()
}

fn is_usual_shift(shift_hz: f64) -> bool {
    usual::nearest(&usual::SHIFTS_HZ, shift_hz, USUAL_SHIFT_HZ / shift_hz).is_some()
}

/// Evidence that a pair needs.
fn needed(probe: &Probe, rate: f64) -> f32 {
    let shift = probe.tones_hz[1] - probe.tones_hz[0];
    let unless = |usual: bool, more: f32| if usual { 0.0 } else { more };
    LEAST_EVIDENCE
        + unless(is_usual_rate(rate), UNUSUAL_RATE_EVIDENCE)
        + match probe.missing {
            Some(_) => ONE_TONE_EVIDENCE,
            None => unless(is_usual_shift(shift), UNUSUAL_SHIFT_EVIDENCE),
        }
}

fn start_of(probe: &Probe, rate: f64, mark: usize) -> PairStart {
    let order = [mark, 1 - mark];
    let mean = |k: usize| probe.power[k].iter().sum::<f32>() / probe.power[k].len() as f32;
    PairStart {
        at_s: probe.from_s,
        rate_baud: rate,
        mark_hz: probe.tones_hz[order[0]],
        space_hz: probe.tones_hz[order[1]],
        power: order.map(mean),
        noise: order.map(|k| probe.density[k] * rate as f32),
    }
}

/// What probes of 20 ms show of both tones.
struct Showings {
    sums: [RunningSum; 2],
    lists: [Vec<Showing>; 2],
    turns: [Complex32; 2],
    grids: [Vec<Complex32>; 2],
}

impl Showings {
    fn new(streams: &[ToneStream; 2], tones_hz: [f64; 2], levels: &Grid, noise: [f32; 2]) -> Self {
        let sums = [0, 1].map(|k| streams[k].follow(&Track::constant(tones_hz[k])));
        let grids = [0, 1].map(|k| sums_on_grid(&sums[k], levels));
        let mut all = Self {
            sums,
            lists: [vec![], vec![]],
            turns: [Complex32::default(); 2],
            grids: [vec![], vec![]],
        };
        for i in (0..levels.points.saturating_sub(PROBE_STEPS)).step_by(PROBE_STEPS / 2) {
            all.take(&grids, i, noise);
        }
        all.grids = grids;
        all
    }

    fn take(&mut self, grids: &[Vec<Complex32>; 2], i: usize, noise: [f32; 2]) {
        let half = PROBE_STEPS / 2;
        let x = [0, 1].map(|k| grids[k][i + PROBE_STEPS] - grids[k][i]);
        let power = x.map(|x| x.norm_sqr());
        let over = [0, 1].map(|k| power[k] / noise[k].max(f32::MIN_POSITIVE));
        let sent = 1.0 / (1.0 + (over[1] - over[0]).clamp(-40.0, 40.0).exp());
        for (k, sent) in [sent, 1.0 - sent].into_iter().enumerate() {
            let grid = &grids[k];
            let (a, b, c) = (grid[i], grid[i + half], grid[i + PROBE_STEPS]);
            self.turns[k] += (c - b) * (b - a).conj() * sent;
            self.lists[k].push(Showing {
                at: (i + half) as f64,
                span: 1.0,
                power: power[k],
                sent,
            });
        }
    }

    /// Score of at most one of the two tones being there at a time: over stretches of 10 ms,
    /// short against most elements. One with `both` weighs so much against one with one alone;
    /// one with neither speaks against a pair, unless it is weak.
    fn exclusive(&self, noise: [f32; 2], is_weak: bool, both: f32) -> f32 {
        let grids = &self.grids;
        let neither = if is_weak { 0.0 } else { -0.25 };
        const STRETCH: usize = PROBE_STEPS / 2;
        let mut score = 0.0;
        for i in (0..grids[0].len() - STRETCH).step_by(STRETCH) {
            // A stretch of half an element holds half of its noise in power of the sum.
            let over = [0, 1].map(|k| {
                let x = grids[k][i + STRETCH] - grids[k][i];
                x.norm_sqr() / (0.5 * noise[k]).max(f32::MIN_POSITIVE)
            });
            let (low, high) = (over[0].min(over[1]), over[0].max(over[1]));
            score += match () {
                () if high < 3.0 => neither,
                () if low < 0.25 * high + 2.0 => 1.0,
                () => -both,
            };
        }
        score
    }

    /// Whether either tone was ever gone while the other was there: two steady tones are no
    /// line, and need no closer look.
    fn is_keyed(&self, noise: [f32; 2]) -> bool {
        let over = |k: usize, s: &Showing| s.power / noise[k].max(f32::MIN_POSITIVE);
        let pairs = self.lists[0].iter().zip(&self.lists[1]);
        let keyed = pairs.filter(|(a, b)| {
            let (a, b) = (over(0, a), over(1, b));
            a.min(b) < 0.25 * a.max(b) + 2.0
        });
        4 * keyed.count() > self.lists[0].len()
    }

    /// How far off tone `k` lies from where it was looked for, Hz.
    fn offset_hz(&self, k: usize) -> f64 {
        (f64::from(self.turns[k].arg()) / (std::f64::consts::PI * PROBE_S)).clamp(-20.0, 20.0)
    }

    fn power(&self, k: usize, noise: f32, points: usize, ln_i0: &LnI0) -> Vec<f32> {
        let weight: f32 = self.lists[k].iter().map(|s| s.sent).sum::<f32>().max(1e-3);
        let sum: f32 = self.lists[k].iter().map(|s| s.sent * s.power).sum();
        let mean = (sum / weight - noise).max(0.1 * noise);
        follow_power(
            &self.lists[k],
            noise,
            mean,
            points.max(1),
            PROBE_STEPS,
            ln_i0,
        )
    }
}
