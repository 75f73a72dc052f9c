//! Where a character's transitions would fit best in time.

use super::{ELEMENTS, Lies, Surroundings, mark};
use crate::characters::reading::Reading;
use crate::pair::window::STEPS;

/// How far transitions are moved on trial, grid points.
const MOVED: [isize; 8] = [-7, -5, -3, -1, 1, 3, 5, 7];

/// Where the elements of a character lie if every transition lies where it fits best.
pub struct Places {
    /// Grid points of their begins and of the last one's end.
    bounds: [usize; ELEMENTS + 1],
    /// What they gain in power over noise by that, mean over the transitions.
    pub gained: f32,
    /// By how much transitions from space come early and those to space late, mean, elements:
    /// how much longer marks are than they should be.
    pub longer_marks: f32,
}

impl Places {
    /// Fits the transitions within a character one by one.
    pub fn fit(of: &Surroundings, character: &Reading, lies: &Lies) -> Self {
        let mut places = Self {
            bounds: std::array::from_fn(|k| lies.start + k * STEPS),
            gained: 0.0,
            longer_marks: 0.0,
        };
        let mut count: f32 = 0.0;
        for k in 1..lies.elements {
            let tones = [k - 1, k].map(|k| usize::from(mark(character, k) < 0.5));
            if tones[0] == tones[1] {
                continue;
            }
            let (by, gained) = best(of, tones, lies.start + k * STEPS);
            places.bounds[k] = places.bounds[k].saturating_add_signed(by);
            places.gained += gained;
            places.longer_marks += if tones[0] == 0 { by } else { -by } as f32;
            count += 1.0;
        }
        places.gained /= count.max(1.0);
        places.longer_marks /= count.max(1.0) * STEPS as f32;
        places
    }

    /// Grid points of an element's begin and end.
    pub fn element(&self, k: usize) -> std::ops::Range<usize> {
        self.bounds[k]..self.bounds[k + 1]
    }
}

/// By how many grid points a transition from one tone to the other at a grid point is best
/// moved, and what that gains.
fn best(of: &Surroundings, tones: [usize; 2], at: usize) -> (isize, f32) {
    let (a, b) = (at - STEPS, at + STEPS);
    let moved = |by: isize| {
        let edge = at.saturating_add_signed(by);
        power(of, tones[0], a, edge) + power(of, tones[1], edge, b)
    };
    let now = moved(0);
    let tried = MOVED.map(|by| (by, moved(by) - now));
    let better = |a: (isize, f32), b: (isize, f32)| if b.1 > a.1 { b } else { a };
    tried.into_iter().fold((0, 0.0), better)
}

/// Power of a tone over noise from grid point `a` to `b`: what a steady tone gives grows
/// with the length of the stretch.
fn power(of: &Surroundings, tone: usize, a: usize, b: usize) -> f32 {
    let sums = &of.reading.tones[tone].sums;
    let length = (b - a) as f32 / STEPS as f32;
    (sums[b] - sums[a]).norm_sqr() / (of.noise(tone) * length)
}
