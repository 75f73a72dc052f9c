//! Lines: how well start-stop lines of every rate and in either sense explain a pair, by each of
//! three measures.

use markhold_code::usual;
use markhold_signal::bessel::LnI0;

use super::probe::{Probe, STEPS};
use crate::characters::framing::{LinePriors, evidence_of};
use crate::elements::Elements;
use crate::pair::rivals::{bursts, steady};

/// A usual rate within this share of the best one is taken instead, unless the evidence
/// against it is this strong: a few seconds of weak signal do not tell rates apart.
const SNAP_SHARE: f64 = 0.03;
const SNAP_EVIDENCE: f32 = 10.0;
/// Shares by which a rate is changed to find the best one nearby.
const CLIMBS: [f64; 5] = [0.015, 0.007, 0.0035, 0.0018, 0.0009];

/// By what lines are compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Measure {
    /// Evidence over noise.
    Noise,
    /// Over that of a tone that stands, for a line that idles: longer elements have more for any tone,
    /// and that tells nothing of the rate. Where little idles, what lies between the tones weighs more
    /// in it.
    Steady,
    /// The same, and over that of elements that come in any order and rest in between: what framing
    /// alone explains. Seconds of idling would outweigh the first characters; shorter elements follow
    /// a line of any rate.
    Keyed,
}

/// A line of one rate and sense, weighed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line {
    pub(super) rate: f64,
    /// Which tone is mark: 0 the lower, 1 the higher.
    pub(super) mark: usize,
    /// Evidence over noise.
    pub(super) evidence: f32,
    /// Evidence that one of its tones stands all the time.
    steady: f32,
}

impl Line {
    /// Its value by a measure, or what that is at most: [`Measure::Keyed`] asks for a walk of its own.
    fn most(&self, by: Measure) -> f32 {
        match by {
            Measure::Noise => self.evidence,
            Measure::Steady | Measure::Keyed => self.evidence - self.steady.max(0.0),
        }
    }
}

/// A line with its value by some measure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Valued {
    pub(super) line: Line,
    pub(super) value: f32,
}

/// Weighs lines on one pair.
#[derive(Clone, Copy)]
pub(super) struct Lines<'a> {
    pub(super) probe: &'a Probe,
    pub(super) ln_i0: &'a LnI0,
    pub(super) priors: &'a LinePriors,
}

impl Lines<'_> {
    /// All lines of these rates and senses.
    pub(super) fn all(&self, rates: &[f64], marks: &[usize]) -> Vec<Line> {
        let of = |rate: &f64| match marks {
            [mark] => vec![self.line(*rate, *mark)],
            _ => {
                let senses = self.probe.both_senses(*rate, STEPS, self.ln_i0);
                let line = |mark: &usize| self.weighed(*rate, *mark, &senses[*mark]);
                marks.iter().map(line).collect()
            }
        };
        rates.iter().flat_map(of).collect()
    }

    /// The line of one rate and sense.
    pub(super) fn line(&self, rate: f64, mark: usize) -> Line {
        self.weighed(rate, mark, &self.elements(rate, mark))
    }

    pub(super) fn elements(&self, rate: f64, mark: usize) -> Elements {
        self.probe.elements(rate, mark, STEPS, self.ln_i0)
    }

    /// Evidence of a line of an unknown sender.
    pub(super) fn evidence(&self, elements: &Elements) -> f32 {
        evidence_of(elements, self.priors)
    }

    fn weighed(&self, rate: f64, mark: usize, elements: &Elements) -> Line {
        Line {
            rate,
            mark,
            evidence: self.evidence(elements),
            steady: steady(elements),
        }
    }

    /// A line with its value.
    pub(super) fn valued(&self, line: Line, by: Measure) -> Valued {
        let most = line.most(by);
        let value = match by {
            Measure::Noise | Measure::Steady => most,
            Measure::Keyed => {
                most.min(line.evidence - bursts(&self.elements(line.rate, line.mark)))
            }
        };
        Valued { line, value }
    }

    /// The best of some lines; those that cannot be are not walked for it.
    pub(super) fn best(&self, lines: &[Line], by: Measure) -> Option<Valued> {
        let mut lines = lines.to_vec();
        lines.sort_by(|a, b| b.most(by).total_cmp(&a.most(by)));
        let (first, others) = lines.split_first()?;
        let better = |best: Valued, line: &Line| self.better(best, *line, by);
        Some(others.iter().fold(self.valued(*first, by), better))
    }

    /// The better one of a line and another.
    fn better(&self, best: Valued, other: Line, by: Measure) -> Valued {
        if other.most(by) <= best.value {
            return best;
        }
        let other = self.valued(other, by);
        match other.value > best.value {
            true => other,
            false => best,
        }
    }

    /// The best rate nearby, or the usual one where the evidence does not argue against it.
    pub(super) fn refined(&self, found: Valued, by: Measure) -> Valued {
        self.snap(self.climb(found, by), by)
    }

    /// Climbs to the best rate nearby, by ever smaller steps.
    fn climb(&self, mut best: Valued, by: Measure) -> Valued {
        for part in CLIMBS {
            for factor in [1.0 + part, 1.0 - part] {
                let other = self.line(best.line.rate * factor, best.line.mark);
                best = self.better(best, other, by);
            }
        }
        best
    }

    /// Takes the usual rate nearby where the evidence does not argue against it.
    fn snap(&self, best: Valued, by: Measure) -> Valued {
        let Some(usual) = usual::nearest(&usual::RATES_BAUD, best.line.rate, SNAP_SHARE) else {
            return best;
        };
        let usual = self.valued(self.line(usual, best.line.mark), by);
        match usual.value > best.value - SNAP_EVIDENCE {
            true => usual,
            false => best,
        }
    }
}
