//! The trial: is this pair of tones a start-stop line, at which rate, and which is mark?
//!
//! Every hypothesis gets its evidence: the likelihood of the latest seconds under the
//! framing model, summed over all texts. It must beat noise, a steady tone, and a line
//! that is keyed at the same rate without start and stop, by a margin.

use markhold_code::usual;
use markhold_signal::{BandPlan, Complex32, bessel::LnI0, running::RunningSum};

use super::rivals::{one_line, rivals, two_carriers};
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
/// Ratio of neighbouring rates when all between 40 and 110 baud are tried: an element five
/// places after the start is then less than a tenth of an element off.
const RATE_RATIO: f64 = 1.03;

/// A usual rate within this share of the best one is taken instead, unless the evidence
/// against it is this strong: a few seconds of weak signal do not tell rates apart.
const SNAP_SHARE: f64 = 0.03;
const SNAP_EVIDENCE: f32 = 10.0;
/// What a hypothesis must bring more if its rate, or its shift, is none of the usual ones
/// (as measured: carriers keyed by hand pass for a start-stop line of some odd kind now and
/// then in an hour, with evidence up to 46).
const UNUSUAL_RATE_EVIDENCE: f32 = 18.0;
const UNUSUAL_SHIFT_EVIDENCE: f32 = 12.0;
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
}

impl Verdict {
    /// Whether both rate and shift are usual ones.
    pub fn is_usual(&self) -> bool {
        let shift = (self.start.mark_hz - self.start.space_hz).abs();
        is_usual_rate(self.start.rate_baud) && is_usual_shift(shift)
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

/// Tries pairs.
pub struct Judge {
    cutter: ToneCutter,
    ln_i0: LnI0,
    priors: LinePriors,
}

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
}

impl Judge {
    /// A judge for one sampling plan.
    pub fn new(plan: BandPlan) -> Self {
        Self {
            cutter: ToneCutter::new(plan, 1.0 / PROBE_S),
            ln_i0: LnI0::default(),
            priors: LinePriors::unknown(STEPS),
        }
    }

    /// All rates between 40 and 110 baud.
    pub fn all_rates() -> Vec<f64> {
        std::iter::successors(Some(40.0), |r| Some(r * RATE_RATIO))
            .take_while(|r| *r < 111.0)
            .collect()
    }

    /// Tries a candidate; `None` if something else explains it better.
    pub fn judge(
        &mut self,
        sound: &Levelled,
        candidate: &Candidate,
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let mut probe = self.probe(sound, candidate)?;
        if !self.is_one_line(&probe) {
            return None;
        }
        let straight = self.judge_rates(&probe, &hypotheses.rates_baud, hypotheses);
        straight
            .or_else(|| self.judge_distorted(&mut probe, hypotheses))
            .or_else(|| self.judge_rates(&probe, &hypotheses.else_rates_baud, hypotheses))
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
        let (rate, mark, evidence) = self.best(probe, rates, &[0, 1])?;
        let of = |other: &f64| {
            let rivals = rivals(&self.elements(probe, *other, mark));
            match *other == rate {
                true => rivals,
                false => rivals.max(self.best(probe, &[*other], &[0, 1]).map_or(0.0, |b| b.2)),
            }
        };
        let margin = evidence - rates.iter().map(of).fold(0.0, f32::max);
        let verdict = Verdict {
            start: start_of(probe, rate, mark),
            mark,
            evidence: margin,
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
        let elements = self.elements(&probe, rate_baud, mark);
        let over_noise = evidence_of(&elements, &self.priors, &Carry::nothing());
        Weight {
            over_noise,
            over_all: over_noise - rivals(&elements),
        }
    }

    fn judge_rates(
        &self,
        probe: &Probe,
        rates: &[f64],
        hypotheses: &Hypotheses,
    ) -> Option<Verdict> {
        let (mut rate, mark, mut evidence) = self.best(probe, rates, &hypotheses.marks)?;
        if hypotheses.refine && evidence > 0.0 {
            (rate, evidence) = self.refine(probe, rate, mark);
            (rate, evidence) = self.snap(probe, rate, mark, evidence);
        }
        if evidence < LEAST_EVIDENCE {
            return None;
        }
        let elements = self.elements(probe, rate, mark);
        let margin = evidence - rivals(&elements);
        let framed = frame(&elements, &self.priors, &Carry::nothing());
        let heard = read(&framed, &elements);
        if is_rhythm(&heard) && !is_usual_rate(rate) {
            return None;
        }
        let heard = heard.len();
        (margin >= needed(probe, rate) && heard >= LEAST_CHARACTERS).then(|| Verdict {
            start: start_of(probe, rate, mark),
            mark,
            evidence: margin,
        })
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
        if !rough.excludes(noise, candidate.is_weak) {
            return None;
        }
        let tones_hz = [0, 1].map(|k| candidate.tones_hz[k] + rough.offset_hz(k));
        if tones_hz[1] - tones_hz[0] < LEAST_SHIFT_HZ {
            return None;
        }
        let better = Showings::new(&streams, tones_hz, &levels, noise);
        let power = [0, 1].map(|k| better.power(k, noise[k], points, &self.ln_i0));
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
        })
    }

    /// Whether one keyed line explains both tones better than two carriers that are keyed
    /// each for itself, whatever the rate: a cheap question that most other sound fails.
    fn is_one_line(&self, probe: &Probe) -> bool {
        [48.0, 85.0].into_iter().any(|rate| {
            let elements = self.elements(probe, rate, 0);
            one_line(&elements) > two_carriers(&elements)
        })
    }

    fn best(&self, probe: &Probe, rates: &[f64], marks: &[usize]) -> Option<(f64, usize, f32)> {
        let all = rates
            .iter()
            .flat_map(|rate| marks.iter().map(|mark| (*rate, *mark)));
        all.map(|(rate, mark)| (rate, mark, self.evidence(probe, rate, mark)))
            .max_by(|a, b| a.2.total_cmp(&b.2))
    }

    fn evidence(&self, probe: &Probe, rate: f64, mark: usize) -> f32 {
        evidence_of(
            &self.elements(probe, rate, mark),
            &self.priors,
            &Carry::nothing(),
        )
    }

    /// Climbs to the rate with most evidence, by ever smaller steps.
    fn refine(&self, probe: &Probe, rate: f64, mark: usize) -> (f64, f32) {
        let mut best = (rate, self.evidence(probe, rate, mark));
        for part in [0.015, 0.007, 0.0035, 0.0018, 0.0009] {
            for factor in [1.0 + part, 1.0 - part] {
                let rate = best.0 * factor;
                let evidence = self.evidence(probe, rate, mark);
                if evidence > best.1 {
                    best = (rate, evidence);
                }
            }
        }
        best
    }

    /// Takes the usual rate nearby where the evidence does not argue against it.
    fn snap(&self, probe: &Probe, rate: f64, mark: usize, evidence: f32) -> (f64, f32) {
        let Some(usual) = usual::nearest(&usual::RATES_BAUD, rate, SNAP_SHARE) else {
            return (rate, evidence);
        };
        let there = self.evidence(probe, usual, mark);
        if there > evidence - SNAP_EVIDENCE {
            (usual, there)
        } else {
            (rate, evidence)
        }
    }

    fn elements(&self, probe: &Probe, rate: f64, mark: usize) -> Elements {
        let step_s = 1.0 / rate / STEPS as f64;
        let points = ((probe.to_s - probe.from_s) / step_s) as usize;
        let grid = Grid {
            begin_s: probe.from_s,
            step_s,
            steps: STEPS,
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
            (STEPS, probe.trim),
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

/// Whether all characters are the same: reversals, or some machine's beat, rather than text.
fn is_rhythm(heard: &[Reading]) -> bool {
    let same = heard
        .windows(2)
        .filter(|pair| pair[0].best() == pair[1].best())
        .count();
    10 * same > 8 * heard.len()
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
    LEAST_EVIDENCE
        + if is_usual_rate(rate) {
            0.0
        } else {
            UNUSUAL_RATE_EVIDENCE
        }
        + if is_usual_shift(shift) {
            0.0
        } else {
            UNUSUAL_SHIFT_EVIDENCE
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

    /// Whether at most one of the two tones is there at a time: over stretches of 10 ms,
    /// short against most elements, a stretch with both weighs thrice one with one alone.
    /// One with neither speaks against a pair, unless it is weak.
    fn excludes(&self, noise: [f32; 2], is_weak: bool) -> bool {
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
                () => -3.0,
            };
        }
        score > 0.0
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
