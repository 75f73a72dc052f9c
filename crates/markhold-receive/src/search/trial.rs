//! The trial: is this pair of tones a start-stop line, at which rate, and which is mark?
//!
//! Every hypothesis gets its evidence: the likelihood of the latest seconds under the
//! framing model, summed over all texts. It must beat noise, a steady tone, and a line
//! that is keyed at the same rate without start and stop, by a margin.
//!
//! `probe`: both tones, ready for any rate. `lines`: how well lines of every rate and sense explain
//! them. `needs`: what is asked of a line before it is believed.

mod lines;
mod needs;
mod probe;

use std::cell::Cell;

use markhold_signal::{BandPlan, bessel::LnI0};

use super::rivals::{one_line, one_tone, rivals, steady, two_carriers};
use super::swept::{self, Sweeps};
use crate::characters::framing::{Carry, LinePriors, evidence_of, frame};
use crate::characters::reading::read;
use crate::elements::Elements;
use crate::levelled::Levelled;
use crate::pair::follower::PairStart;
use crate::pair::tones::ToneCutter;
use lines::{Line, Lines, Measure, Valued};
use needs::{LEAST_EVIDENCE, is_few_codes, is_rhythm, is_usual_rate, is_usual_shift, needed};
use probe::{PROBE_S, Probe, STEPS};

/// Grid points at either end of an element that do not count where a usual pair is explained
/// by nothing else: a bias of 40 % of an element, moved half to either side, keeps out of the
/// rest. That costs 3 dB, so that it is no first choice.
const DISTORTED_STEPS: usize = 2;
/// Evidence by which that must beat all that is usual: weak signals, found a little later as
/// they are, reach 50.
const DISTORTED_EVIDENCE: f32 = 60.0;
/// Characters that must have been heard.
const LEAST_CHARACTERS: usize = 4;
/// A line idles for most of the time where it has fewer characters a second, a tenth of its pace, and a
/// tone that stands explains this share of what it does.
const SLOW: f64 = 0.7;
const STANDS: f32 = 0.9;
/// Ratio of neighbouring rates when all between 40 and 110 baud are tried: an element five
/// places after the start is then less than a tenth of an element off.
const RATE_RATIO: f64 = 1.03;

/// Rates at which it is asked roughly whether there is one line of any rate: one of 100 baud is none
/// at 85, and one of 45 is none there either.
const ONE_LINE_BAUD: [f64; 3] = [48.0, 85.0, 98.0];

/// Rates that differ by more than this, as a natural logarithm, are quite other ones.
const OTHER_RATE: f64 = 0.15;
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
    /// Power of each tone while it is sent, where that is known.
    pub power: Option<[f32; 2]>,
    /// Carriers beside the tones that are taken away first, Hz.
    pub carriers_hz: Vec<f64>,
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
            &candidate.noise_density[sent.clone()],
            candidate.power.as_ref().map(|power| &power[sent]),
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
        let lines = self.lines(&probe);
        let usual = lines.all(&hypotheses.rates_baud, &hypotheses.marks);
        let best = lines.best(&usual, Measure::Noise)?;
        let verdict = self.judge_best(lines, best, hypotheses, Measure::Noise);
        if self.idles() {
            let best = lines.best(&usual, Measure::Steady)?;
            let other = self.judge_best(lines, best, hypotheses, Measure::Steady);
            // By either measure it has to be that kind of line.
            if self.idles() {
                return self.by_what_is_framed(lines, other?, &usual, hypotheses);
            }
        }
        if let Some(verdict) = verdict {
            return self.by_what_is_framed(lines, verdict, &usual, hypotheses);
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
        if hypotheses.else_rates_baud.is_empty() || self.some_evidence(&probe, best) < SOME_EVIDENCE
        {
            return None;
        }
        self.spent += ALL_RATES * share;
        let verdict = self.judge_all_rates(&probe, hypotheses)?;
        self.by_what_is_framed(self.lines(&probe), verdict, &usual, hypotheses)
    }

    fn lines<'a>(&'a self, probe: &'a Probe) -> Lines<'a> {
        Lines {
            probe,
            ln_i0: &self.ln_i0,
            priors: &self.priors,
        }
    }

    /// The rate and sense of a line that was found: where by what framing explains another one is
    /// the better, that one, if it is a line as well. Two ways to compare must both see a line, so
    /// that this finds none where none is. An unusual rate has to be the better one by what it needs
    /// more, or to beat all else by more.
    fn by_what_is_framed(
        &self,
        lines: Lines,
        verdict: Verdict,
        usual: &[Line],
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let by = Measure::Keyed;
        let best = lines.best(usual, by)?;
        let rate = verdict.start.rate_baud;
        let is_near = (best.line.rate / rate).ln().abs() < OTHER_RATE;
        if best.line.mark == verdict.mark && is_near {
            return Some(verdict);
        }
        let found = lines.valued(lines.line(rate, verdict.mark), by);
        let stands = |valued: &Valued| valued.value - needed(lines.probe, valued.line.rate);
        if stands(&best) <= stands(&found) {
            return Some(verdict);
        }
        let is_better = best.value > found.value;
        let other = self.judge_best(lines, best, hypotheses, by);
        if is_better {
            return other;
        }
        let stronger = other.filter(|other| other.evidence > verdict.evidence);
        stronger.or(Some(verdict))
    }

    /// Evidence that there is a line of some rate: where one of the tones is another pair's, over
    /// what that one is alone, for it needs no other to be a line.
    fn some_evidence(&self, probe: &Probe, best: Valued) -> f32 {
        let (lines, line) = (self.lines(probe), best.line);
        let alone = || one_tone(&lines.elements(line.rate, line.mark), |e| lines.evidence(e));
        match probe.is_shared && line.evidence > 0.0 {
            true => line.evidence - alone().max(0.0),
            false => line.evidence,
        }
    }

    fn judge_all_rates(&self, probe: &Probe, hypotheses: &Hypotheses) -> Option<Verdict> {
        let roughly = |elements: &Elements| evidence_of(elements, &self.rough_priors);
        let of = |rate: f64| {
            let senses = probe.both_senses(rate, ROUGH_STEPS, &self.ln_i0);
            let of = |mark: &usize| (rate, *mark, roughly(&senses[*mark]));
            hypotheses.marks.iter().map(of).collect::<Vec<_>>()
        };
        let rough = hypotheses.else_rates_baud.iter().flat_map(|rate| of(*rate));
        let (rate, mark, evidence) = rough.max_by(|a, b| a.2.total_cmp(&b.2))?;
        if evidence < ROUGHLY * LEAST_EVIDENCE {
            return None;
        }
        let (lines, by) = (self.lines(probe), Measure::Noise);
        let best = lines.valued(lines.line(rate, mark), by);
        self.judge_best(lines, best, hypotheses, by)
    }

    /// Whether the middles of elements alone are a line of a usual kind.
    fn judge_distorted(&self, probe: &mut Probe, hypotheses: &Hypotheses) -> Option<Verdict> {
        probe.trim = DISTORTED_STEPS;
        let verdict = self.judge_middles(self.lines(probe), hypotheses);
        probe.trim = 0;
        verdict
    }

    /// Middles fit much: the other sense, another rate, reversals. All that is usual is tried,
    /// and one must stand out of it.
    fn judge_middles(&self, lines: Lines, hypotheses: &Hypotheses) -> Option<Verdict> {
        let usual = lines.all(&hypotheses.rates_baud, &[0, 1]);
        let Line {
            rate,
            mark,
            evidence,
            ..
        } = lines.best(&usual, Measure::Noise)?.line;
        if evidence < DISTORTED_EVIDENCE {
            return None;
        }
        let others = usual.iter().filter(|line| line.rate != rate);
        let others = others.fold(0.0, |most: f32, line| most.max(line.evidence));
        let no_line = |rate: &f64| rivals(&lines.elements(*rate, mark));
        let no_line = hypotheses.rates_baud.iter().map(no_line);
        let margin = evidence - no_line.fold(others, f32::max);
        let verdict = Verdict {
            start: start_of(lines.probe, rate, mark),
            mark,
            evidence: margin,
            missing: lines.probe.missing,
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
        let lines = self.lines(&probe);
        let elements = lines.elements(rate_baud, mark);
        let over_noise = lines.evidence(&elements);
        Weight {
            over_noise,
            over_all: over_noise - rivals(&elements),
        }
    }

    /// Whether what is taken for a line beats all else.
    fn judge_best(
        &self,
        lines: Lines,
        mut best: Valued,
        hypotheses: &Hypotheses,
        by: Measure,
    ) -> Option<Verdict> {
        self.idles.set(false);
        if hypotheses.refine && best.line.evidence > 0.0 {
            best = lines.refined(best, by);
        }
        let (probe, found) = (lines.probe, best.line);
        if found.evidence < LEAST_EVIDENCE {
            return None;
        }
        let elements = lines.elements(found.rate, found.mark);
        let margin = found.evidence - against(lines, &elements);
        if margin < needed(probe, found.rate) {
            return None;
        }
        let framed = frame(&elements, &self.priors, &Carry::nothing());
        let heard = read(&framed, &elements);
        if is_rhythm(&heard) && !is_usual_rate(found.rate) {
            return None;
        }
        if probe.missing.is_some() && is_few_codes(&heard) {
            return None;
        }
        let is_slow = (heard.len() as f64) < SLOW * (probe.to_s - probe.from_s);
        self.idles
            .set(is_slow && steady(&elements) > STANDS * found.evidence);
        (heard.len() >= LEAST_CHARACTERS).then(|| Verdict {
            start: start_of(probe, found.rate, found.mark),
            mark: found.mark,
            evidence: margin,
            missing: probe.missing,
        })
    }

    fn probe(&mut self, sound: &Levelled, candidate: &Candidate) -> Option<Probe> {
        Probe::new(&mut self.cutter, &self.ln_i0, sound, candidate)
    }

    /// Whether one keyed line explains both tones better than two carriers that are keyed
    /// each for itself, whatever the rate: a cheap question that most other sound fails.
    fn is_one_line(&self, probe: &Probe) -> bool {
        ONE_LINE_BAUD.into_iter().any(|rate| {
            let elements = probe.elements(rate, 0, ROUGH_STEPS, &self.ln_i0);
            one_line(&elements) > two_carriers(&elements)
        })
    }
}

/// Evidence of the best other explanation.
fn against(lines: Lines, elements: &Elements) -> f32 {
    let others = rivals(elements);
    match lines.probe.is_doubtful {
        true => others.max(one_tone(elements, |e| lines.evidence(e))),
        false => others,
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
