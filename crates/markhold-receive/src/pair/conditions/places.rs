//! Whether a character's elements would fit better at other places in time.

use super::{Lies, Surroundings, mark};
use crate::characters::reading::Reading;
use crate::pair::window::STEPS;

/// How far transitions are moved on trial, grid points.
const MOVED: [i64; 8] = [-7, -5, -3, -1, 1, 3, 5, 7];
/// Lengths of an element on trial, as a share of its own.
const LENGTHS: [f64; 8] = [0.8, 0.87, 0.92, 0.96, 1.04, 1.09, 1.15, 1.25];
/// How far the start is moved with each length, grid points.
const STARTS: [i64; 5] = [-6, -3, 0, 3, 6];

/// What is gained by moving transitions one by one, and by stretching all.
pub fn measure(of: &Surroundings, character: &Reading, lies: &Lies) -> (f32, f32) {
    (edges(of, character, lies), stretched(of, lies))
}

/// Power of a tone over noise from grid point `a` to `b`: what a steady tone gives grows
/// with the length of the stretch.
fn power(of: &Surroundings, tone: usize, a: usize, b: usize) -> f32 {
    let sums = &of.reading.tones[tone].sums;
    let length = (b - a) as f32 / STEPS as f32;
    (sums[b] - sums[a]).norm_sqr() / (of.noise(tone) * length)
}

fn edges(of: &Surroundings, character: &Reading, lies: &Lies) -> f32 {
    let (mut sum, mut count) = (0.0, 0);
    for k in 1..lies.elements {
        let tones = [k - 1, k].map(|k| usize::from(mark(character, k) < 0.5));
        if tones[0] == tones[1] {
            continue;
        }
        let at = lies.start + k * STEPS;
        let (a, b) = (at - STEPS, at + STEPS);
        let of_edge = |e: usize| power(of, tones[0], a, e) + power(of, tones[1], e, b);
        let moved = MOVED.map(|by| of_edge((at as i64 + by) as usize));
        sum += moved.into_iter().fold(0.0f32, f32::max) - of_edge(at);
        count += 1;
    }
    sum / count.max(1) as f32
}

fn stretched(of: &Surroundings, lies: &Lies) -> f32 {
    let last = of.window.clear.len() - 1;
    // The better tone of every element: with another length it may be another.
    let all = |start: i64, length: f64| -> Option<f32> {
        let place = |k: usize| start + (k as f64 * length * STEPS as f64).round() as i64;
        if start < 0 || place(7) as usize > last {
            return None;
        }
        let element = |k: usize| {
            let (a, b) = (place(k) as usize, place(k + 1) as usize);
            match k {
                0 => power(of, 1, a, b),
                6 => power(of, 0, a, b),
                _ => power(of, 0, a, b).max(power(of, 1, a, b)),
            }
        };
        Some((0..7).map(element).sum::<f32>() / length as f32)
    };
    let start = lies.start as i64;
    let Some(as_read) = all(start, 1.0) else {
        return 0.0;
    };
    let tries = LENGTHS
        .iter()
        .flat_map(|&l| STARTS.map(|by| (start + by, l)));
    tries
        .filter_map(|(start, length)| all(start, length))
        .fold(0.0, |best, gain| f32::max(best, gain - as_read))
}
