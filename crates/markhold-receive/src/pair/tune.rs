//! Tuning: both tracks moved by how the phase turns within elements.
//!
//! An element whose tone lies beside its track turns from its first half to its second, by
//! `pi` times the offset in modulation rates. All elements around an instant are summed as
//! phasors, so the strong and sure ones count most; what may well be chance is left alone.
//! This pulls in offsets of some ten hertz; finer tuning is for the sender models.

use markhold_signal::Complex32;

use super::track::Track;
use super::window::{STEPS, Window, WindowReading};

/// Time constant, on either side, of the mean over elements, s.
const CONSTANT_S: f64 = 0.6;
/// Belief that nothing moved, as the weight of so many noise powers.
const STILL: f32 = 30.0;
/// Offsets of less than some two standard deviations are taken for chance.
const SURE: f32 = 5.0;

/// How the phase turned within one element.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Turn {
    /// Middle of the element, s.
    at_s: f64,
    /// Second half times the conjugate of the first, in noise powers.
    turn: Complex32,
}

/// Moves both tracks by the turning of phase within the elements of a window. `noise` is
/// the noise power in one element of each tone.
pub fn tune(tracks: &mut [Track; 2], window: &Window, reading: &WindowReading, noise: [f32; 2]) {
    let turns = turns(window, reading, noise);
    if turns.is_empty() {
        return;
    }
    let element_s = window.grid.element_s();
    let knots = window.knots();
    let offsets: Vec<f64> = knots
        .iter()
        .map(|&t| f64::from(angle(&turns, t)) / (std::f64::consts::PI * element_s))
        .collect();
    for track in tracks {
        *track = track.moved(&knots, |i| offsets[i]);
    }
}

/// The turning of phase in all whole elements.
fn turns(window: &Window, reading: &WindowReading, noise: [f32; 2]) -> Vec<Turn> {
    let half = STEPS / 2;
    reading
        .spans
        .iter()
        .filter(|s| s.to - s.from == STEPS)
        .map(|s| {
            let turn = [0, 1].map(|k| {
                let sums = &reading.tones[k].sums;
                let (a, b, c) = (sums[s.from], sums[s.from + half], sums[s.to]);
                (c - b) * (b - a).conj() / noise[k].max(f32::MIN_POSITIVE)
            });
            let (mark, space) = (s.mark * s.on, (1.0 - s.mark) * s.on);
            Turn {
                at_s: window.grid.at((s.from + half) as f64),
                turn: turn[0] * mark + turn[1] * space,
            }
        })
        .collect()
}

/// The angle by which phase turns from the first to the second half of elements around
/// `at_s`, taken down by the doubt that it is chance.
fn angle(turns: &[Turn], at_s: f64) -> f32 {
    let near = |t: &Turn| (-(t.at_s - at_s).abs() / CONSTANT_S).exp() as f32;
    let sum: Complex32 = turns.iter().map(|t| t.turn * near(t)).sum::<Complex32>();
    // What scatters is the part of every turn across the mean direction.
    let direction = sum / sum.norm().max(f32::MIN_POSITIVE);
    let across = |t: &Turn| ((t.turn * direction.conj()).im * near(t)).powi(2);
    let squares: f32 = turns.iter().map(across).sum();
    let variance = squares / sum.norm_sqr().max(f32::MIN_POSITIVE);
    let angle = (sum + Complex32::new(STILL, 0.0)).arg();
    let doubt = (SURE * variance / angle.powi(2).max(f32::MIN_POSITIVE)).min(1.0);
    angle * (1.0 - doubt)
}
