//! Tuning by phase: what the phases of successive characters say about frequency.
//!
//! Between two characters the phases of a known sender turn by a known angle. What they
//! turn beyond is frequency error, seen over eight elements and more rather than within
//! one: ten times as exact as the turning of phase within elements, as long as it is less
//! than half a turn (3 Hz).

use std::f64::consts::TAU;

use markhold_signal::Complex32;

use super::model::{SenderModel, Tuning};

/// A character and the phases it begins with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhasePoint {
    /// Begin of the start element, grid points.
    pub start: f64,
    /// Its code.
    pub code: usize,
    /// Probability of both.
    pub sure: f32,
    /// Mean of `exp(i phase)` of mark and space.
    pub phases: [Complex32; 2],
}

/// The phases of a window's characters, and how they were followed.
#[derive(Clone, Debug, PartialEq)]
pub struct Phases {
    /// The model that followed them.
    pub model: SenderModel,
    /// The frequencies it assumed.
    pub tuning: Tuning,
    /// The characters, in order of time.
    pub points: Vec<PhasePoint>,
}

/// Frequency error over time, against where the tones were sought.
#[derive(Clone, Debug, PartialEq)]
pub struct Offsets {
    /// Error of both tones at each knot, Hz.
    pub both_hz: Vec<f64>,
    /// Error of their distance, Hz.
    pub distance_hz: f64,
}

/// Over how long the frequency is averaged on either side, s.
const CONSTANT_S: f64 = 0.6;
/// Longest time between two characters that are compared, elements.
const FARTHEST: f64 = 12.0;
/// Variance of the turn between two sure characters, radians squared.
const VARIANCE: f64 = 0.07;
/// Transitions and elements in a character, about.
const TRANSITIONS: f32 = 3.0;
const ELEMENTS: f32 = 7.5;
/// How far a frequency strays from what was foretold, Hz (standard deviation).
const STRAY_HZ: f64 = 0.4;
/// The same for the distance of the tones, which hardly moves.
const DISTANCE_STRAY_HZ: f64 = 0.2;

/// A turn that was seen between two characters.
struct Seen {
    at: f64,
    mark_s: f64,
    space_s: f64,
    angle: f64,
    weight: f64,
}

/// Frequency errors at instants `knots`, s from the window's begin; `steps` grid points to
/// the element.
pub fn offsets(phases: &Phases, steps: usize, knots: &[f64]) -> Offsets {
    let (model, tuning) = (&phases.model, &phases.tuning);
    let strays = TRANSITIONS * model.kick * model.kick + ELEMENTS * model.wander * model.wander;
    let variance = VARIANCE + f64::from(strays);
    let mut seen: Vec<Seen> = phases
        .points
        .windows(2)
        .flat_map(|pair| see(&pair[0], &pair[1], tuning, steps))
        .collect();
    seen.iter_mut().for_each(|s| s.weight /= variance);
    let [e_mark, e_space] = tuning.offset_hz;
    let both_hz: Vec<f64> = knots.iter().map(|&t| both(&seen, t)).collect();
    let distance_hz = e_mark - e_space + distance(&seen, knots, &both_hz);
    let middle_hz = (e_mark + e_space) / 2.0;
    Offsets {
        both_hz: both_hz.iter().map(|hz| hz + middle_hz).collect(),
        distance_hz,
    }
}

fn distance(seen: &[Seen], knots: &[f64], both_hz: &[f64]) -> f64 {
    let nearest = |t: f64| {
        let far = |k: &usize| (knots[*k] - t).abs();
        (0..knots.len())
            .min_by(|a, b| far(a).total_cmp(&far(b)))
            .map_or(0.0, |k| both_hz[k])
    };
    let (mut product, mut square) = (0.0, DISTANCE_STRAY_HZ.powi(-2));
    for s in seen {
        let rest = s.angle - TAU * nearest(s.at) * (s.mark_s + s.space_s);
        let lever = TAU * (s.mark_s - s.space_s) / 2.0;
        product += s.weight * rest * lever;
        square += s.weight * lever * lever;
    }
    product / square
}

fn both(seen: &[Seen], t: f64) -> f64 {
    let (mut product, mut square) = (0.0, STRAY_HZ.powi(-2));
    for s in seen {
        let near = (-(s.at - t).abs() / CONSTANT_S).exp() * s.weight;
        let lever = TAU * (s.mark_s + s.space_s);
        product += near * s.angle * lever;
        square += near * lever * lever;
    }
    product / square
}

fn see(before: &PhasePoint, after: &PhasePoint, tuning: &Tuning, steps: usize) -> Vec<Seen> {
    let apart = (after.start - before.start) / steps as f64;
    let sure = f64::from(before.sure * after.sure);
    if apart > FARTHEST || sure < 0.5 {
        return Vec::new();
    }
    let space_s = (6.0 - f64::from((before.code as u32).count_ones())) * tuning.element_s;
    let mark_s = apart * tuning.element_s - space_s;
    let [e_mark, e_space] = tuning.offset_hz;
    let biased = f64::from(space_runs(before.code)) * tuning.bias_turn() / TAU;
    let known = e_mark * mark_s + e_space * space_s + biased;
    let expected = [
        known - tuning.distance_hz * space_s,
        known + tuning.distance_hz * mark_s,
    ];
    (0..2)
        .map(|k| {
            let turn = after.phases[k] * before.phases[k].conj();
            let angle = f64::from(turn.arg()) - TAU * expected[k];
            Seen {
                at: (before.start + after.start) / 2.0 / steps as f64 * tuning.element_s,
                mark_s,
                space_s,
                angle: (angle / TAU - (angle / TAU).round()) * TAU,
                weight: sure * f64::from(turn.norm_sqr().sqrt()),
            }
        })
        .collect()
}

/// Runs of space in a character, its start element included.
fn space_runs(code: usize) -> u32 {
    // Start, elements 1 to 5 and stop, lowest bit first.
    let line = (code as u32) << 1 | 1 << 6;
    (!line & (line >> 1) & 0b11_1111).count_ones()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn phase(angle: f64) -> Complex32 {
        Complex32::from_polar(1.0, angle as f32)
    }

    /// ITU-T S.1: Y is 10101, R is 01010; E is 10000, T 00001, blank 00000, letters 11111.
    #[test]
    fn runs_of_space_are_counted_with_the_start_element() {
        let runs = [0b10101, 0b01010, 0b00001, 0b10000, 0, 0b11111].map(space_runs);
        assert_eq!(runs, [3, 3, 2, 1, 1, 1]);
    }

    /// A known bias is no frequency error: both phases turn at each of a character's runs.
    #[test]
    fn a_known_bias_is_no_error() {
        let tuning = Tuning {
            distance_hz: 170.0,
            element_s: 0.022,
            offset_hz: [0.0; 2],
            bias: 0.08,
        };
        let model = SenderModel {
            continuous: true,
            wander: 0.1,
            kick: 0.0,
            start: 0.4,
        };
        let longer_s = 0.08 * 0.022;
        let (mut start, mut mark, mut space) = (0.0, 1.0, 2.0);
        let mut points = Vec::new();
        for c in 0..60usize {
            let code = c * 7 % 32;
            points.push(PhasePoint {
                start,
                code,
                sure: 1.0,
                phases: [phase(mark), phase(space)],
            });
            // Element by element: start, five elements, the stop.
            let line = [
                0,
                code & 1,
                code >> 1 & 1,
                code >> 2 & 1,
                code >> 3 & 1,
                code >> 4 & 1,
                1,
            ];
            let runs = line.windows(2).filter(|w| w[0] == 0 && w[1] == 1).count() as f64;
            let elements = line.iter().filter(|x| **x == 0).count() as f64;
            let spaces = elements * 0.022 - runs * longer_s;
            mark -= TAU * 170.0 * spaces;
            space += TAU * 170.0 * (7.5 * 0.022 - spaces);
            start += 7.5 * 16.0;
        }
        let phases = Phases {
            model,
            tuning,
            points,
        };
        let found = offsets(&phases, 16, &[6.0]);
        assert!(found.both_hz[0].abs() < 0.01, "{found:?}");
        assert!(found.distance_hz.abs() < 0.01, "{found:?}");
    }

    #[test]
    fn finds_the_errors_of_both_tones() {
        let tuning = Tuning {
            distance_hz: 170.0,
            element_s: 0.022,
            offset_hz: [0.0; 2],
            bias: 0.0,
        };
        let model = SenderModel {
            continuous: true,
            wander: 0.1,
            kick: 0.0,
            start: 0.4,
        };
        for (e_mark, e_space) in [(0.0, 0.0), (0.8, 0.8), (-0.5, 0.5), (1.0, 0.4)] {
            let mut points = Vec::new();
            let (mut start, mut mark, mut space) = (0.0, 1.0, 2.0);
            for c in 0..80 {
                let code = c * 7 % 32;
                points.push(PhasePoint {
                    start,
                    code,
                    sure: 1.0,
                    phases: [phase(mark), phase(space)],
                });
                let spaces = f64::from(6 - code.count_ones() as i32) * 0.022;
                let marks = 7.5 * 0.022 - spaces;
                let both = TAU * (e_mark * marks + e_space * spaces);
                mark += both - TAU * 170.0 * spaces;
                space += both + TAU * 170.0 * marks;
                start += 7.5 * 16.0;
            }
            // Each look takes a part of the way; a few arrive.
            let mut phases = Phases {
                model,
                tuning,
                points,
            };
            let mut left = f64::MAX;
            for _ in 0..12 {
                let found = offsets(&phases, 16, &[6.0]);
                let (both, apart) = (found.both_hz[0], found.distance_hz / 2.0);
                let error = [both + apart - e_mark, both - apart - e_space];
                let worst = error[0].abs().max(error[1].abs());
                assert!(worst < left.max(0.02), "{found:?} after {left}");
                left = worst;
                phases.tuning.offset_hz = [both + apart, both - apart];
            }
            assert!(left < 0.02, "{left} Hz left of {e_mark} and {e_space}");
        }
    }
}
