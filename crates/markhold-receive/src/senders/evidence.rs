//! Evidence: which sender model explains what is heard, and the mixture of all by it.

use super::heard::Heard;
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::sound::Sound;
use super::tuning::PhasePoint;
use super::walk::{Walked, walk};
use crate::characters::framing::LinePriors;
use crate::characters::reading::Reading;

/// Phases of each tone.
const PHASES: usize = 16;
/// Share of the evidence of earlier windows that still counts.
const MEMORY: f32 = 0.5;
/// Half the width, in elements, of the stretch of starts taken for one character.
const HALF_WIDTH: f64 = 0.45;

/// The models that are tried beside the non-coherent one.
pub const MODELS: [SenderModel; 4] = [
    SenderModel { continuous: true, wander: 0.06, kick: 0.0, start: 0.4, prior: -1.0 },
    SenderModel { continuous: true, wander: 0.2, kick: 0.0, start: 0.4, prior: -1.0 },
    SenderModel { continuous: true, wander: 0.1, kick: 0.4, start: 0.4, prior: -1.0 },
    SenderModel { continuous: false, wander: 0.1, kick: 0.0, start: 0.0, prior: -1.0 },
];

/// What a closer look gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Closer {
    /// The characters, in order of time.
    pub readings: Vec<Reading>,
    /// Their phases, where a phase-continuous sender explains the sound best.
    pub phases: Option<Vec<PhasePoint>>,
}

/// Chooses among sender models.
#[derive(Clone, Debug)]
pub struct Senders {
    /// Evidence of each model so far, against the non-coherent one, which stands last.
    so_far: [f32; MODELS.len() + 1],
}

impl Default for Senders {
    fn default() -> Self {
        Self { so_far: [0.0; MODELS.len() + 1] }
    }
}

impl Senders {
    /// Reads a window again. `start` is the probability of a start at each grid point.
    pub fn read(&mut self, sound: &Sound, start: &[f32], priors: &LinePriors, tuning: &Tuning) -> Closer {
        let lattice = Lattice::new(start, priors, sound.steps);
        let heard = Heard::new(sound, &lattice);
        let mut walks: Vec<Walked> = MODELS
            .iter()
            .map(|m| walk::<PHASES>(&heard, &lattice, m, tuning))
            .collect();
        walks.push(walk::<1>(&Heard::new(sound, &lattice), &lattice, &MODELS[0], tuning));
        let plain = walks[MODELS.len()].evidence;
        let mut lns = self.so_far;
        for (k, w) in walks.iter().enumerate() {
            self.so_far[k] = MEMORY * (self.so_far[k] + w.evidence - plain);
            lns[k] += w.evidence - plain + MODELS.get(k).map_or(0.0, |m| m.prior);
        }
        if std::env::var("SHOW").is_ok() {
            eprintln!("{} starts {} edges plain {plain:.1} lns {:?}", lattice.starts.len(), lattice.edges.len(), lns);
        }
        let highest = lns.iter().fold(f32::MIN, |a, &b| a.max(b));
        let total: f32 = lns.iter().map(|l| (l - highest).exp()).sum();
        let weights: Vec<f32> = lns.iter().map(|l| (l - highest).exp() / total).collect();
        let lead = (0..lns.len()).fold(0, |b, k| if lns[k] > lns[b] { k } else { b });
        let readings = mix(&lattice, &walks, &weights, sound.steps);
        let phases = MODELS
            .get(lead)
            .filter(|m| m.continuous)
            .map(|_| phase_points(&lattice, &walks[lead], &readings, sound.steps));
        Closer { readings, phases }
    }
}

/// The most likely candidate of each reading, with its phases.
fn phase_points(lattice: &Lattice, walked: &Walked, readings: &[Reading], steps: usize) -> Vec<PhasePoint> {
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

fn mix(lattice: &Lattice, walks: &[Walked], weights: &[f32], steps: usize) -> Vec<Reading> {
    let count = lattice.starts.len();
    let mut present = vec![0.0f32; count];
    let mut codes = vec![[0.0f32; 32]; count];
    for (walk, &weight) in walks.iter().zip(weights) {
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
    let mass: Vec<f32> = (0..starts.len()).map(|c| present[around(c)].iter().sum()).collect();
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

fn gather(starts: &[f64], present: &[f32], codes: &[[f32; 32]], of: std::ops::Range<usize>) -> Reading {
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
