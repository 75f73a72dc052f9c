//! Readings: the characters of a window, each with the probability of all 32 codes.

use super::framing::Framed;
use super::priors::CHARACTER;
use crate::elements::Elements;

/// A character that probably begins here.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Begin of the start element, grid points from the window's begin (posterior mean).
    pub start: f64,
    /// Uncertainty of `start`, grid points (posterior standard deviation).
    pub spread: f64,
    /// Probability that a character begins here at all, 0 to 1.
    pub present: f32,
    /// Probability of each code, given that one does.
    pub codes: [f32; 32],
}

impl Reading {
    /// Probability that element `k` (0 to 4) is mark.
    pub fn mark(&self, k: usize) -> f32 {
        (0..32)
            .filter(|c| c >> k & 1 == 1)
            .map(|c| self.codes[c])
            .sum()
    }

    /// Probability that a character with the most probable code begins here.
    pub fn probability(&self) -> f32 {
        self.present * self.codes[self.best()]
    }

    /// The most probable code.
    pub fn best(&self) -> usize {
        (0..32).fold(0, |best, c| {
            if self.codes[c] > self.codes[best] {
                c
            } else {
                best
            }
        })
    }
}

/// The three most probable codes, the best first.
pub fn best_three(codes: &[f32; 32]) -> [usize; 3] {
    let mut order: Vec<usize> = (0..32).collect();
    order.sort_by(|a, b| codes[*b].total_cmp(&codes[*a]));
    [order[0], order[1], order[2]]
}

/// Half the width, in elements, of the stretch of starts that are taken for one character.
/// Real characters stand at least seven elements apart.
const HALF_WIDTH: f64 = 0.45;
/// A character is reported where it is more likely there than not.
const LEAST_PRESENT: f32 = 0.5;

/// Reads the characters of a framed window, in order of time.
pub fn read(framed: &Framed, elements: &Elements) -> Vec<Reading> {
    let steps = elements.steps;
    let half = (HALF_WIDTH * steps as f64) as usize;
    let mass = moving_sum(&framed.start, half);
    let mut readings: Vec<Reading> = Vec::new();
    let mut i = 0;
    while i < mass.len() {
        if mass[i] < LEAST_PRESENT {
            i += 1;
            continue;
        }
        let end = (i + 2 * steps).min(mass.len());
        let best = (i..end).fold(i, |best, j| if mass[j] > mass[best] { j } else { best });
        readings.push(read_one(
            framed,
            elements,
            best.saturating_sub(half),
            best + half + 1,
        ));
        i = best + 5 * steps;
    }
    readings
}

/// Takes readings down by the probability that the line was off while they were heard,
/// and drops those that are then less likely than not.
pub fn withhold_where_off(readings: &mut Vec<Reading>, framed: &Framed, steps: usize) {
    for reading in readings.iter_mut() {
        let from = (reading.start.max(0.0) as usize).min(framed.off.len() - 1);
        let to = (from + CHARACTER * steps).min(framed.off.len());
        let off = framed.off[from..to].iter().sum::<f32>() / (to - from) as f32;
        reading.present *= 1.0 - off;
    }
    readings.retain(|r| r.present >= LEAST_PRESENT);
}

fn moving_sum(list: &[f32], half: usize) -> Vec<f32> {
    let mut running = vec![0.0f64; list.len() + 1];
    for (i, v) in list.iter().enumerate() {
        running[i + 1] = running[i] + f64::from(*v);
    }
    (0..list.len())
        .map(|i| (running[(i + half + 1).min(list.len())] - running[i.saturating_sub(half)]) as f32)
        .collect()
}

fn read_one(framed: &Framed, elements: &Elements, from: usize, to: usize) -> Reading {
    let to = to.min(framed.start.len());
    let (mut total, mut first, mut second) = (0.0f64, 0.0f64, 0.0f64);
    let mut codes = [0.0f64; 32];
    for i in from..to {
        let weight = f64::from(framed.start[i]);
        total += weight;
        first += weight * i as f64;
        second += weight * (i as f64).powi(2);
        if weight > 1e-5 {
            add_codes(&mut codes, weight, &marks_after(elements, i));
        }
    }
    let sum: f64 = codes.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let start = first / total;
    Reading {
        start,
        spread: (second / total - start * start).max(0.0).sqrt(),
        present: total.min(1.0) as f32,
        codes: codes.map(|c| (c / sum) as f32),
    }
}

/// Probability of each code of a character that starts at point `i`, all being alike before.
pub fn codes_at(elements: &Elements, i: usize) -> [f32; 32] {
    let mut codes = [0.0f64; 32];
    add_codes(&mut codes, 1.0, &marks_after(elements, i));
    codes.map(|c| c as f32)
}

/// Probability of mark for the five elements of a character that starts at point `i`.
fn marks_after(elements: &Elements, i: usize) -> [f64; 5] {
    [1, 2, 3, 4, 5].map(|k| {
        let j = i + k * elements.steps;
        let ratio = match j < elements.points() {
            true => elements.mark[j] - elements.space[j],
            false => 0.0,
        };
        1.0 / (1.0 + f64::from(-ratio).exp())
    })
}

fn add_codes(codes: &mut [f64; 32], weight: f64, marks: &[f64; 5]) {
    for (c, sum) in codes.iter_mut().enumerate() {
        let likelihood = |(k, p): (usize, &f64)| if c >> k & 1 == 1 { *p } else { 1.0 - p };
        *sum += weight * marks.iter().enumerate().map(likelihood).product::<f64>();
    }
}
