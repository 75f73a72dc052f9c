//! What is left of a character's sound when the tone of every element is taken out: noise,
//! and whatever else falls into the pair.

use std::f32::consts::TAU;

use markhold_signal::Complex32;

use super::places::Places;
use super::{Lies, Surroundings, mark};
use crate::characters::reading::Reading;
use crate::pair::window::STEPS;

/// How far outside of the pair a line is looked for, Hz, and in what steps.
const OUTSIDE_HZ: f64 = 120.0;
const STEP_HZ: f64 = 6.0;

/// Power of the strongest steady line in what is left, over the noise: a maximum over some
/// fifty places, so some 4 where there is none.
pub fn line(of: &Surroundings, character: &Reading, lies: &Lies, places: &Places) -> f32 {
    let left = left(of, character, lies, places);
    if left.is_empty() {
        return 0.0;
    }
    let middle_s = (lies.from_s + lies.to_s) / 2.0;
    let distance_hz = of.tracks[1].hz(middle_s) - of.tracks[0].hz(middle_s);
    let (low, high) = (
        distance_hz.min(0.0) - OUTSIDE_HZ,
        distance_hz.max(0.0) + OUTSIDE_HZ,
    );
    let places = (0..).map(|k| low + STEP_HZ * f64::from(k));
    let places = places.take_while(|hz| *hz <= high);
    let strongest = places.fold(0.0, |most, hz| f32::max(most, power_at(&left, hz, of)));
    strongest / (of.noise(0) * lies.elements as f32)
}

/// Power at a frequency beside mark's tone, in units of the elements' sums.
fn power_at(left: &[Complex32], hz: f64, of: &Surroundings) -> f32 {
    let turn = Complex32::from_polar(1.0, -TAU * (hz * of.window.grid.step_s) as f32);
    let (mut now, mut sum) = (Complex32::new(1.0, 0.0), Complex32::default());
    for y in left {
        sum += y * now;
        now *= turn;
    }
    sum.norm_sqr()
}

/// Mark's stream, grid point by grid point, with the tone of every element taken out, each
/// where it fits best: a transition that comes late is no neighbour. It is wide enough to
/// hold both tones.
fn left(of: &Surroundings, character: &Reading, lies: &Lies, places: &Places) -> Vec<Complex32> {
    let sums = &of.reading.tones[0].sums;
    let mut left = Vec::with_capacity(lies.elements * STEPS);
    for k in 0..lies.elements {
        let range = places.element(k);
        let begin = range.start;
        let steps = || range.clone().map(|i| (i, sums[i + 1] - sums[i]));
        let hz = match mark(character, k) >= 0.5 {
            true => 0.0,
            false => {
                let at = of.window.grid.at(begin as f64);
                of.tracks[1].hz(at) - of.tracks[0].hz(at)
            }
        };
        let step = TAU * (hz * of.window.grid.step_s) as f32;
        let turned = |i: usize| Complex32::from_polar(1.0, step * (i - begin) as f32);
        let tone: Complex32 = steps().map(|(i, y)| y * turned(i).conj()).sum();
        let tone = tone / range.len() as f32;
        left.extend(steps().map(|(i, y)| y - tone * turned(i)));
    }
    left
}
