//! Whether a character's transitions would fit better at other places in time.

use super::{Lies, Surroundings, mark};
use crate::characters::reading::Reading;
use crate::pair::window::STEPS;

/// How far transitions are moved on trial, grid points.
const MOVED: [i64; 8] = [-7, -5, -3, -1, 1, 3, 5, 7];
/// Power of a tone over noise from grid point `a` to `b`: what a steady tone gives grows
/// with the length of the stretch.
fn power(of: &Surroundings, tone: usize, a: usize, b: usize) -> f32 {
    let sums = &of.reading.tones[tone].sums;
    let length = (b - a) as f32 / STEPS as f32;
    (sums[b] - sums[a]).norm_sqr() / (of.noise(tone) * length)
}

/// What elements gain in power over noise if every transition lies where it fits best, mean
/// over the transitions.
pub fn edges(of: &Surroundings, character: &Reading, lies: &Lies) -> f32 {
    let (mut gained, mut count) = (0.0, 0);
    for k in 1..lies.elements {
        let tones = [k - 1, k].map(|k| usize::from(mark(character, k) < 0.5));
        if tones[0] == tones[1] {
            continue;
        }
        let at = lies.start + k * STEPS;
        let (a, b) = (at - STEPS, at + STEPS);
        let of_edge = |by: i64| {
            let edge = (at as i64 + by) as usize;
            power(of, tones[0], a, edge) + power(of, tones[1], edge, b)
        };
        gained += MOVED.map(of_edge).into_iter().fold(0.0, f32::max) - of_edge(0);
        count += 1;
    }
    gained / count.max(1) as f32
}
