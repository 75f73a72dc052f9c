//! What the two tones showed during a character.

use markhold_signal::Complex32;

use super::{Lies, Surroundings, mark};
use crate::characters::reading::Reading;
use crate::pair::spans::Span;
use crate::pair::window::STEPS;

/// Elements on either side that the turning of phase is taken from as well.
const AROUND: usize = 8;

/// Elements on either side that show the energy of the tones as well.
const SHOWN: usize = 9;
/// Elements on either side in which power is seen to vary.
const VARIES: usize = 45;

/// What the tones showed; see [`super::Conditions`].
pub struct Tones {
    pub energy: [f32; 2],
    pub other: f32,
    pub off: [f32; 2],
    pub varies: f32,
    pub apart: f32,
}

/// Measures both tones.
pub fn measure(of: &Surroundings, character: &Reading, lies: &Lies) -> Tones {
    let tones = &of.reading.tones;
    let count = (lies.end - lies.start + 1) as f32;
    let energy = [0, 1].map(|k| {
        let tone = &tones[k];
        let energy = |i: usize| tone.power[i] / tone.noise[i].max(f32::MIN_POSITIVE);
        (lies.start..=lies.end).map(energy).sum::<f32>() / count
    });
    Tones {
        energy,
        other: other(of, character, lies),
        off: off(of, lies),
        varies: varies(of, lies),
        apart: apart(of, lies),
    }
}

/// Power of a tone over noise in the element from a grid point on, as far as it was clear.
fn power(of: &Surroundings, tone: usize, from: usize) -> f32 {
    let sums = &of.reading.tones[tone].sums;
    let span = (of.window.clear[from + STEPS] - of.window.clear[from]).max(0.1);
    (sums[from + STEPS] - sums[from]).norm_sqr() / (of.noise(tone) * span)
}

/// Power over noise at the tone not sent, mean of the elements.
fn other(of: &Surroundings, character: &Reading, lies: &Lies) -> f32 {
    let element = |k: usize| {
        let silent = usize::from(mark(character, k) >= 0.5);
        power(of, silent, lies.start + k * STEPS)
    };
    (0..lies.elements).map(element).sum::<f32>() / lies.elements.max(1) as f32
}

/// How far the tones lie off their tracks, from the turning of phase from the first half of
/// each element to its second, and in how many standard deviations.
fn off(of: &Surroundings, lies: &Lies) -> [f32; 2] {
    let (from, to) = (
        lies.start.saturating_sub(AROUND * STEPS),
        lies.end + AROUND * STEPS,
    );
    let near = of.reading.spans.iter();
    let near = near.filter(|s| s.from >= from && s.to <= to && s.to - s.from == STEPS);
    let (mut sum, mut squares) = (Complex32::default(), 0.0);
    for s in near {
        for (tone, weight) in [(0, s.mark * s.on), (1, (1.0 - s.mark) * s.on)] {
            let sums = &of.reading.tones[tone].sums;
            let (a, b, c) = (sums[s.from], sums[s.from + STEPS / 2], sums[s.to]);
            let turn = (c - b) * (b - a).conj() * (weight / of.noise(tone));
            sum += turn;
            squares += 0.5 * turn.norm_sqr();
        }
    }
    let hz = sum.arg() / (std::f32::consts::PI * of.window.grid.element_s() as f32);
    let sure = sum.im.abs() / f32::max(squares, f32::MIN_POSITIVE).sqrt();
    [hz, sure]
}

/// How far the powers of the tones in the elements from a few before to a few after a
/// character lie apart, in standard deviations: a power `P` in noise of 1 scatters by
/// `sqrt(2 P + 1)` from element to element.
fn apart(of: &Surroundings, lies: &Lies) -> f32 {
    let (from, to) = (
        lies.start.saturating_sub(SHOWN * STEPS),
        lies.end + SHOWN * STEPS,
    );
    let near = |s: &&Span| s.from >= from && s.to <= to && s.to - s.from == STEPS;
    let (mut sums, mut weights) = ([0.0f32; 2], [0.1f32; 2]);
    for s in of.reading.spans.iter().filter(near) {
        for (tone, weight) in [(0, s.mark), (1, 1.0 - s.mark)] {
            sums[tone] += weight * (power(of, tone, s.from) - 1.0);
            weights[tone] += weight;
        }
    }
    let [mark, space] = [0, 1].map(|k| (sums[k] / weights[k]).max(0.0));
    let variance = (2.0 * mark + 1.0) / weights[0] + (2.0 * space + 1.0) / weights[1];
    (mark - space).abs() / variance.sqrt()
}

/// How much the power of either tone varies around a character.
fn varies(of: &Surroundings, lies: &Lies) -> f32 {
    let last = of.window.grid.points;
    let from = lies.start.saturating_sub(VARIES * STEPS);
    let points = || (from..=(lies.end + VARIES * STEPS).min(last)).step_by(STEPS);
    let variance = |k: usize| {
        let ln = |i: usize| of.reading.tones[k].power[i].max(f32::MIN_POSITIVE).ln();
        let count = points().count() as f32;
        let mean = points().map(ln).sum::<f32>() / count;
        points().map(|i| (ln(i) - mean).powi(2)).sum::<f32>() / count
    };
    (0.5 * (variance(0) + variance(1))).sqrt()
}
