//! Evidence: which sender model explains what is heard, and the mixture of all by it.

use super::fading::coarse::Coarse;
use super::fading::heard::Heard as HeardGains;
use super::fading::motion::Fading;
use super::fading::walk::{Backward as BackwardGains, Walker as GainWalker};
use super::heard::Heard;
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::seek::seek;
use super::sound::Sound;
use super::tuning::{PhasePoint, Phases};
use super::walk::{Backward, Walked, Walker, walk};
use crate::characters::framing::LinePriors;
use crate::characters::reading::Reading;
use crate::sums::log_sum::NEVER;

/// Phases of each tone.
const PHASES: usize = 16;
/// Share of the evidence of earlier windows that still counts.
const MEMORY: f32 = 0.35;
/// Half the width, in elements, of the stretch of starts taken for one character.
const HALF_WIDTH: f64 = 0.45;

/// Every so many windows all models are walked, not only those that may lead.
const ALL_EVERY: usize = 4;
/// How far a model may lie behind the best, in log evidence, to be walked in between.
const CLOSE: f32 = 15.0;
/// Least probability, under the leading model, of a candidate that the others try.
const LEAST_TRIED: f32 = 3e-4;

/// Log evidence a character by which a model that follows phase is ahead of the
/// non-coherent one when frequencies are right (8 to 10 with a steady hand, 3 with 1 ms of
/// jitter).
const LOCKED: f32 = 5.0;
/// Every so many windows a bias is doubted: some ten seconds.
const BIAS_EVERY: usize = 12;
/// Most windows between two searches.
const MOST_PATIENCE: usize = 15;

/// Natural logarithm of the prior probability of each model beside the non-coherent one.
const PRIOR: f32 = -1.0;
/// Starts are known to a sixteenth of an element, which turns space's phase by so much at
/// 170 Hz and 45.45 baud, radians (standard deviation).
const START: f32 = 0.4;

const fn continuous(wander: f32, kick: f32) -> SenderModel {
    SenderModel {
        continuous: true,
        wander,
        kick,
        start: START,
    }
}

/// The models that follow tables of phases: one oscillator; with transitions that jitter by
/// 0.3, 0.7 and 1 ms at 170 Hz; two oscillators.
pub const MODELS: [SenderModel; 5] = [
    continuous(0.15, 0.0),
    continuous(0.1, 0.35),
    continuous(0.1, 0.75),
    continuous(0.1, 1.2),
    SenderModel {
        continuous: false,
        wander: 0.1,
        kick: 0.0,
        start: 0.0,
    },
];

/// Those that follow gains of one oscillator: with transitions that jitter by half a
/// millisecond at 170 Hz; steady to slow fading; fast fading.
const FADINGS: [Fading; 3] = [
    Fading {
        rate: 0.07,
        kick: 0.6,
        start: START,
    },
    Fading {
        rate: 0.04,
        kick: 0.0,
        start: START,
    },
    Fading {
        rate: 0.08,
        kick: 0.0,
        start: START,
    },
];

/// Log evidence a character that those of the first kind have too much: they are told how
/// strong a tone is at each moment by the very sound that they explain.
const TOLD: f32 = 4.0;
/// How much less weight, in nats, may come through a walk of gains forward than backward: what
/// merging loses. A walk that loses more is a broken one and says less.
const MERGED: f32 = 15.0;
/// For tuning, the phases of gains are taken to wander so.
const GLIDING: SenderModel = continuous(0.3, 0.0);

/// Number of models with the non-coherent one.
const COUNT: usize = PLAIN + 1;
/// Where the models of gains stand: after those of phases.
const GAINS: usize = MODELS.len();
/// Where the non-coherent model stands: last.
const PLAIN: usize = MODELS.len() + FADINGS.len();
/// Least weight in the mixture, against the leading model's, of a model that is walked.
const LEAST_WEIGHT: f32 = 1e-4;

/// What a closer look gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Closer {
    /// The characters, in order of time.
    pub readings: Vec<Reading>,
    /// Their phases, where a phase-continuous sender explains the sound best.
    pub phases: Option<Phases>,
}

/// Chooses among sender models.
#[derive(Clone, Debug, Default)]
pub struct Senders {
    /// Evidence of each model so far, against the non-coherent one.
    so_far: [f32; COUNT],
    windows: usize,
    /// Bias as sought last, elements.
    bias: f64,
    /// Windows until frequency is sought by trial again.
    rest: usize,
    /// How long the last rest was meant to be.
    patience: usize,
}

impl Senders {
    /// Reads a window again. `start` is the probability of a start at each grid point.
    pub fn read(
        &mut self,
        sound: &Sound,
        start: &[f32],
        priors: &LinePriors,
        tuning: &Tuning,
    ) -> Closer {
        let lattice = Lattice::new(start, priors, sound.steps);
        let hear = |bias: f64| Sound {
            distorted: bias != 0.0,
            ..*sound
        };
        let mut heard = Heard::<PHASES>::new(&hear(self.bias), &lattice);
        let mut tuning = Tuning {
            bias: self.bias,
            ..*tuning
        };
        if self.rest == 0 {
            tuning = seek(&heard, &lattice, &tuning);
            if (tuning.bias != 0.0) != (self.bias != 0.0) {
                heard = Heard::new(&hear(tuning.bias), &lattice);
            }
            self.bias = tuning.bias;
        }
        let (sound, tuning) = (&hear(tuning.bias), &tuning);
        let plain = Heard::<1>::new(sound, &lattice);
        let ways = Ways {
            phased: &heard,
            plain: &plain,
            sound,
            lattice: &lattice,
            tuning,
        };
        let (evidence, lns, walks) = self.walks(&ways);
        let lead = greatest(&lns);
        let mixed = shares(&lns, &walks);
        let readings = mix(&lattice, &mixed, sound.steps);
        let follows = match lead {
            GAINS..PLAIN => Some(&GLIDING),
            _ => MODELS.get(lead).filter(|m| m.continuous),
        };
        let phases = follows.and_then(|m| {
            let walked = walks[lead].as_ref()?;
            let points = phase_points(&lattice, walked, &readings, sound.steps);
            Some(Phases {
                model: *m,
                tuning: *tuning,
                points,
            })
        });
        self.windows += 1;
        self.plan_seeking(&evidence, readings.len());
        Closer { readings, phases }
    }

    /// Doubts a bias now and then, for an error of the tones' distance looks like one. Else
    /// seeks again while tables of phases explain little more than envelopes do, ever more
    /// seldom. Gains do not count: those that glide fast put up with a bias.
    fn plan_seeking(&mut self, evidence: &[Option<f32>; COUNT], readings: usize) {
        let of = |e: &Option<f32>| e.unwrap_or(NEVER);
        let phased = evidence[..GAINS].iter().fold(NEVER, |a, e| a.max(of(e)));
        let gain = phased - of(&evidence[PLAIN]);
        if self.bias != 0.0 && self.windows.is_multiple_of(BIAS_EVERY) {
            (self.rest, self.patience) = (0, 0);
        } else if gain > LOCKED * readings as f32 {
            (self.rest, self.patience) = (1, 0);
        } else if self.rest > 0 {
            self.rest -= 1;
        } else if readings > 0 {
            self.patience = (2 * self.patience + 1).min(MOST_PATIENCE);
            self.rest = self.patience;
        }
    }

    /// Walks the table of phases that led so far, and looks back under the non-coherent
    /// model and those of the others that may lead; walks on under those that then weigh
    /// anything. Gives the evidence of each, its log weight, and the walks.
    fn walks(&mut self, ways: &Ways) -> (Evidences, [f32; COUNT], [Option<Walked>; COUNT]) {
        let before = greatest(&self.so_far[..GAINS]);
        let leading = greatest(&self.so_far[..PLAIN]);
        let first = walk(ways.phased, ways.lattice, &MODELS[before], ways.tuning);
        // What cannot be for the leading model is not tried by the others.
        let some: Vec<bool> = first.present.iter().map(|&p| p > LEAST_TRIED).collect();
        let all = self.windows < 2 || self.windows.is_multiple_of(ALL_EVERY);
        let close = |k: usize| all || self.so_far[k] > self.so_far[leading] - CLOSE;
        let back: [Option<Looked>; GAINS] = std::array::from_fn(|k| {
            (k != before && close(k)).then(|| ways.look_back(&MODELS[k], &some))
        });
        let coarse = Coarse::new(ways.lattice, &first.present, &some);
        let gains = HeardGains::new(ways.sound, &coarse.lattice);
        let back_gains: [Option<LookedGains>; FADINGS.len()] = std::array::from_fn(|k| {
            close(GAINS + k).then(|| {
                let walker = GainWalker::new(&gains, &coarse.lattice, &FADINGS[k], ways.tuning);
                let back = walker.backward();
                (walker, back)
            })
        });
        let every = vec![true; some.len()];
        let plain = Walker::new(ways.plain, ways.lattice, &every, &MODELS[0], ways.tuning);
        let plain_back = plain.backward();
        let told = TOLD * first.present.iter().sum::<f32>();
        let evidence = std::array::from_fn(|k| match k {
            PLAIN => Some(plain_back.evidence),
            GAINS.. => back_gains[k - GAINS].as_ref().map(|b| b.1.evidence + told),
            _ if k == before => Some(first.evidence),
            _ => back[k].as_ref().map(|b| b.1.evidence),
        });
        let mut lns = self.weigh(&evidence);
        let least = lns[greatest(&lns)] + LEAST_WEIGHT.ln();
        let mut walks = std::array::from_fn(|k| match k {
            _ if k == before || lns[k] < least => None,
            PLAIN => Some(plain.forward(&plain_back)),
            GAINS.. => {
                let looked = back_gains[k - GAINS].as_ref();
                looked.map(|(walker, back)| coarse.spread(&walker.forward(back)))
            }
            _ => back[k].as_ref().map(|(walker, back)| walker.forward(back)),
        });
        for k in GAINS..PLAIN {
            if let (Some(walk), Some((_, back))) = (&walks[k], &back_gains[k - GAINS]) {
                lns[k] -= (back.evidence - walk.evidence - MERGED).max(0.0);
            }
        }
        walks[before] = Some(first);
        (evidence, lns, walks)
    }

    /// Log weight of each model in the mixture; takes the evidence into account for later.
    fn weigh(&mut self, evidence: &Evidences) -> [f32; COUNT] {
        let plain = evidence[PLAIN].unwrap_or(0.0);
        std::array::from_fn(|k| {
            let Some(evidence) = evidence[k] else {
                return NEVER;
            };
            let now = self.so_far[k] + evidence - plain;
            self.so_far[k] = MEMORY * now;
            now + if k == PLAIN { 0.0 } else { PRIOR }
        })
    }
}

/// Evidence of each model that was tried.
type Evidences = [Option<f32>; COUNT];

/// A model with what it sees from the window's end.
type Looked<'a> = (Walker<'a, PHASES>, Backward<PHASES>);
type LookedGains<'a> = (GainWalker<'a>, BackwardGains);

/// What all models walk.
struct Ways<'a> {
    phased: &'a Heard<PHASES>,
    plain: &'a Heard<1>,
    sound: &'a Sound<'a>,
    lattice: &'a Lattice,
    tuning: &'a Tuning,
}

impl<'a> Ways<'a> {
    fn look_back(&self, model: &'a SenderModel, some: &'a [bool]) -> Looked<'a> {
        let walker = Walker::new(self.phased, self.lattice, some, model, self.tuning);
        let back = walker.backward();
        (walker, back)
    }
}

/// The walks that were made, each with its share of the mixture.
fn shares<'a>(lns: &[f32; COUNT], walks: &'a [Option<Walked>; COUNT]) -> Vec<(&'a Walked, f32)> {
    let highest = lns[greatest(lns)];
    let raw = |k: usize| (lns[k] - highest).exp();
    let made: Vec<(&Walked, f32)> = walks
        .iter()
        .enumerate()
        .filter_map(|(k, w)| w.as_ref().map(|w| (w, raw(k))))
        .collect();
    let total: f32 = made.iter().map(|m| m.1).sum();
    made.iter().map(|&(w, raw)| (w, raw / total)).collect()
}

/// Index of the greatest, the first of equals.
fn greatest(list: &[f32]) -> usize {
    (0..list.len()).fold(0, |b, k| if list[k] > list[b] { k } else { b })
}

/// The most likely candidate of each reading, with its phases.
fn phase_points(
    lattice: &Lattice,
    walked: &Walked,
    readings: &[Reading],
    steps: usize,
) -> Vec<PhasePoint> {
    let near = |r: &Reading| {
        let half = HALF_WIDTH * steps as f64;
        let candidates = 0..lattice.starts.len();
        candidates
            .filter(|&c| (lattice.starts[c] - r.start).abs() <= half)
            .max_by(|&a, &b| walked.present[a].total_cmp(&walked.present[b]))
    };
    readings
        .iter()
        .filter_map(|r| near(r).map(|c| (r, c)))
        .map(|(r, c)| {
            let code = r.best();
            PhasePoint {
                start: lattice.starts[c],
                code,
                sure: walked.present[c].min(r.present) * walked.codes[c][code],
                phases: walked.phases[c],
            }
        })
        .collect()
}

fn mix(lattice: &Lattice, walks: &[(&Walked, f32)], steps: usize) -> Vec<Reading> {
    let count = lattice.starts.len();
    let mut present = vec![0.0f32; count];
    let mut codes = vec![[0.0f32; 32]; count];
    for (walk, weight) in walks {
        for c in 0..count {
            let p = weight * walk.present[c];
            present[c] += p;
            for (sum, q) in codes[c].iter_mut().zip(&walk.codes[c]) {
                *sum += p * q;
            }
        }
    }
    readings(&lattice.starts, &present, &codes, steps)
}

/// Takes neighbouring candidates for one character where together they are likely.
fn readings(starts: &[f64], present: &[f32], codes: &[[f32; 32]], steps: usize) -> Vec<Reading> {
    let half = HALF_WIDTH * steps as f64;
    let around = |c: usize| {
        let low = starts.partition_point(|&u| u < starts[c] - half);
        let high = starts.partition_point(|&u| u <= starts[c] + half);
        low..high
    };
    let mass: Vec<f32> = (0..starts.len())
        .map(|c| present[around(c)].iter().sum())
        .collect();
    let mut out: Vec<Reading> = Vec::new();
    let mut c = 0;
    while c < starts.len() {
        if mass[c] < 0.5 {
            c += 1;
            continue;
        }
        let end = starts.partition_point(|&u| u < starts[c] + 2.0 * steps as f64);
        let best = (c..end).fold(c, |b, j| if mass[j] > mass[b] { j } else { b });
        out.push(gather(starts, present, codes, around(best)));
        c = starts.partition_point(|&u| u < starts[best] + 5.0 * steps as f64);
    }
    out
}

fn gather(
    starts: &[f64],
    present: &[f32],
    codes: &[[f32; 32]],
    of: std::ops::Range<usize>,
) -> Reading {
    let (mut total, mut first, mut second) = (0.0f64, 0.0f64, 0.0f64);
    let mut sums = [0.0f32; 32];
    for c in of {
        let p = f64::from(present[c]);
        total += p;
        first += p * starts[c];
        second += p * starts[c].powi(2);
        for (sum, q) in sums.iter_mut().zip(&codes[c]) {
            *sum += q;
        }
    }
    let start = first / total;
    let all: f32 = sums.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    Reading {
        start,
        spread: (second / total - start * start).max(0.0).sqrt(),
        present: total.min(1.0) as f32,
        codes: sums.map(|s| s / all),
    }
}
