//! What was heard at every place of a coarse lattice, in units of the gains.

use super::component::Stretch;
use crate::senders::heard::{Elements, cuts};
use crate::senders::lattice::{CHARACTER, Edge, Lattice};
use crate::senders::sound::{MARK, SPACE, Sound};
use crate::sums::log_sum::NEVER;

/// A stretch of idle line and its length in elements.
pub struct Piece {
    /// Its sound.
    pub heard: Stretch,
    /// Its length, elements.
    pub span: f64,
}

/// The sound of all elements and idle stretches of a lattice.
pub struct Heard {
    /// By candidate.
    pub elements: Vec<Elements<Stretch>>,
    /// By edge.
    pub gaps: Vec<Vec<Piece>>,
    /// From each candidate's first stop unit to the window's end, where a walk may end so.
    pub tails: Vec<Vec<Piece>>,
    /// Grid points to the element.
    pub steps: f64,
}

impl Heard {
    /// Takes up all places of a lattice.
    pub fn new(sound: &Sound, lattice: &Lattice) -> Self {
        let steps = sound.steps as f64;
        let scaled = Scaled::new(sound);
        let end = |c: usize| lattice.starts[c] + CHARACTER * steps;
        let gap = |e: &Edge| scaled.idle(e.from.map_or(0.0, end), lattice.starts[e.to]);
        let elements =
            |&u: &f64| Elements::hear(sound, u, |tone, from, to| scaled.stretch(tone, from, to));
        let last = sound.points() as f64;
        let tail = |c: usize| match lattice.exit[c] > NEVER {
            true => scaled.idle(end(c), last),
            false => Vec::new(),
        };
        Self {
            elements: lattice.starts.iter().map(elements).collect(),
            gaps: lattice.edges.iter().map(gap).collect(),
            tails: (0..lattice.starts.len()).map(tail).collect(),
            steps,
        }
    }
}

/// Sound in units of each tone's mean amplitude in the window.
struct Scaled<'a> {
    sound: &'a Sound<'a>,
    power: [f32; 2],
}

impl<'a> Scaled<'a> {
    fn new(sound: &'a Sound<'a>) -> Self {
        let power = [MARK, SPACE].map(|k| {
            let power = &sound.tones[k].power;
            (power.iter().sum::<f32>() / power.len() as f32).max(f32::MIN_POSITIVE)
        });
        Self { sound, power }
    }

    fn stretch(&self, tone: usize, from: f64, to: f64) -> Stretch {
        let power = self.power[tone];
        Stretch {
            sum: self.sound.between(tone, from, to) / power.sqrt(),
            span: self.sound.clear_between(from, to),
            noise: self.sound.noise(tone, from) / power,
        }
    }

    /// Whole elements of mark and one remainder.
    fn idle(&self, from: f64, to: f64) -> Vec<Piece> {
        let steps = self.sound.steps as f64;
        let piece = |(begin, end): (f64, f64)| Piece {
            heard: self.stretch(MARK, begin, end),
            span: (end - begin) / steps,
        };
        cuts(from, to, steps).map(piece).collect()
    }
}
