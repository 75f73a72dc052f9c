//! What was heard at every place of a lattice: the likelihoods that all models share.

use super::lattice::{CHARACTER, Lattice};
use super::sound::{Likelihood, MARK, SPACE, Sound};
use crate::sums::log_sum::NEVER;

/// Longest stretch, in elements, over which an idle line's phase counts as one.
const LONGEST: f64 = 1.5;

/// What was heard in the seven whole elements of a candidate.
#[derive(Clone, Debug)]
pub struct Elements<T> {
    /// Start element.
    pub start: T,
    /// Five elements, each as mark and as space.
    pub data: [[T; 2]; 5],
    /// First unit of the stop element.
    pub stop: T,
}

impl<T> Elements<T> {
    /// Of a candidate that begins at `start`; `hear` takes up a tone between grid points.
    pub fn hear(sound: &Sound, start: f64, hear: impl Fn(usize, f64, f64) -> T) -> Self {
        let steps = sound.steps as f64;
        let element = |tone: usize, k: usize| {
            let from = start + k as f64 * steps;
            let (from, to) = sound.inside(from, from + steps);
            hear(tone, from, to)
        };
        Self {
            start: element(SPACE, 0),
            data: [1, 2, 3, 4, 5].map(|k| [element(MARK, k), element(SPACE, k)]),
            stop: element(MARK, 6),
        }
    }
}

/// Begins and ends of whole elements between grid points, and of one remainder.
pub fn cuts(from: f64, to: f64, steps: f64) -> impl Iterator<Item = (f64, f64)> {
    let count = ((to - from) / steps).ceil().max(0.0) as usize;
    (0..count).map(move |k| {
        let begin = from + k as f64 * steps;
        (begin, (begin + steps).min(to))
    })
}

/// A stretch of idle line and its length in elements.
#[derive(Clone, Debug)]
pub struct Piece<const N: usize> {
    /// Its likelihood.
    pub likelihood: Likelihood<N>,
    /// Its length, elements.
    pub span: f64,
}

/// Likelihoods of all elements and idle stretches of a lattice.
#[derive(Clone, Debug)]
pub struct Heard<const N: usize> {
    /// By candidate.
    pub elements: Vec<Elements<Likelihood<N>>>,
    /// By edge.
    pub gaps: Vec<Vec<Piece<N>>>,
    /// From each candidate's first stop unit to the window's end, where a walk may end so.
    pub tails: Vec<Vec<Piece<N>>>,
    /// Mean power of each tone around each candidate, over its mean in the window.
    pub depth: Vec<[f32; 2]>,
}

impl<const N: usize> Heard<N> {
    /// Weighs all places of a lattice.
    pub fn new(sound: &Sound, lattice: &Lattice) -> Self {
        let steps = sound.steps as f64;
        let end = |c: usize| lattice.starts[c] + CHARACTER * steps;
        let gaps = lattice
            .edges
            .iter()
            .map(|e| idle(sound, e.from.map_or(0.0, end), lattice.starts[e.to]));
        let last = sound.points() as f64;
        let tails = (0..lattice.starts.len()).map(|c| match lattice.exit[c] > NEVER {
            true => idle(sound, end(c), last),
            false => Vec::new(),
        });
        let mean = [MARK, SPACE].map(|k| {
            let power = &sound.tones[k].power;
            power.iter().sum::<f32>() / power.len() as f32
        });
        let elements = |&u: &f64| Elements::hear(sound, u, |k, from, to| sound.weigh(k, from, to));
        let depth = |&u: &f64| [MARK, SPACE].map(|k| sound.power(k, u + 3.5 * steps) / mean[k]);
        Self {
            elements: lattice.starts.iter().map(elements).collect(),
            gaps: gaps.collect(),
            tails: tails.collect(),
            depth: lattice.starts.iter().map(depth).collect(),
        }
    }
}

/// Whole elements of mark and one remainder; the last two joined where they are short.
fn idle<const N: usize>(sound: &Sound, from: f64, to: f64) -> Vec<Piece<N>> {
    let steps = sound.steps as f64;
    let mut pieces: Vec<Piece<N>> = Vec::new();
    for (begin, end) in cuts(from, to, steps) {
        let span = (end - begin) / steps;
        let likelihood = sound.weigh(MARK, begin, end);
        match pieces.last_mut() {
            Some(last) if last.span + span <= LONGEST => {
                last.likelihood = last.likelihood.joined(&likelihood);
                last.span += span;
            }
            _ => pieces.push(Piece { likelihood, span }),
        }
    }
    pieces
}
