//! Tuning: both tracks moved by how the phase turns within elements.
//!
//! An element whose tone lies beside its track turns from its first half to its second, by
//! `pi` times the offset in modulation rates. All elements around an instant are summed as
//! phasors, so the strong and sure ones count most; what may well be chance is left alone.
//! This pulls in offsets of some ten hertz; finer tuning is by the phases of successive
//! characters, which the sender models give.

use markhold_signal::Complex32;

use super::track::Track;
use super::window::{STEPS, Window, WindowReading};
use crate::senders::tuning::{Phases, offsets};

/// Time constant, on either side, of the mean over elements, s.
const CONSTANT_S: f64 = 0.6;
/// Belief that nothing moved, as the weight of so many noise powers.
const STILL: f32 = 30.0;
/// Offsets of less than some two standard deviations are taken for chance.
const SURE: f32 = 5.0;

/// How the phase turned within one element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Middle of the element, s.
    pub at_s: f64,
    /// Second half times the conjugate of the first, in noise powers, of mark and of space,
    /// each times the probability that it was sent.
    pub tones: [Complex32; 2],
}

impl Turn {
    fn both(&self) -> Complex32 {
        self.tones[0] + self.tones[1]
    }
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

/// Moves both tracks by the phases of a window's characters; how far at most, Hz.
pub fn tune_by_phases(tracks: &mut [Track; 2], window: &Window, phases: &Phases) -> f64 {
    let knots = window.knots();
    let times: Vec<f64> = knots.iter().map(|t| t - window.grid.begin_s).collect();
    let found = offsets(phases, STEPS, &times);
    for (track, side) in tracks.iter_mut().zip([0.5, -0.5]) {
        *track = track.moved(&knots, |i| found.both_hz[i] + side * found.distance_hz);
    }
    let most = found.both_hz.iter().fold(0.0f64, |a, hz| a.max(hz.abs()));
    most.max(found.distance_hz.abs())
}

/// The turning of phase in all whole elements. `noise` is the noise power in one element of
/// each tone.
pub fn turns(window: &Window, reading: &WindowReading, noise: [f32; 2]) -> Vec<Turn> {
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
                tones: [turn[0] * mark, turn[1] * space],
            }
        })
        .collect()
}

/// The angle by which phase turns from the first to the second half of elements around
/// `at_s`, taken down by the doubt that it is chance.
fn angle(turns: &[Turn], at_s: f64) -> f32 {
    let near = |t: &Turn| (-(t.at_s - at_s).abs() / CONSTANT_S).exp() as f32;
    let sum: Complex32 = turns.iter().map(|t| t.both() * near(t)).sum::<Complex32>();
    // What scatters is the part of every turn across the mean direction.
    let direction = sum / sum.norm().max(f32::MIN_POSITIVE);
    let across = |t: &Turn| ((t.both() * direction.conj()).im * near(t)).powi(2);
    let squares: f32 = turns.iter().map(across).sum();
    let variance = squares / sum.norm_sqr().max(f32::MIN_POSITIVE);
    let angle = (sum + Complex32::new(STILL, 0.0)).arg();
    let doubt = (SURE * variance / angle.powi(2).max(f32::MIN_POSITIVE)).min(1.0);
    angle * (1.0 - doubt)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{Carry, LinePriors};
    use crate::pair::levels::Levels;
    use crate::pair::spans::Span;
    use crate::pair::testing::{RATE_HZ, levelled, sound};
    use crate::pair::tones::ToneCutter;
    use crate::pair::window::Known;
    use markhold_signal::{BandPlan, bessel::LnI0};

    const NOISE: f64 = 0.02;
    const ELEMENT_S: f64 = 0.02;

    /// Tracks at 1000 and 1170 Hz, tuned to tones `off_hz` beside them that are sent in turn.
    fn tuned(off_hz: f64, on: f32) -> [Track; 2] {
        let sound = levelled(&sound(3.0, NOISE, |t| {
            let mark = ((t / ELEMENT_S) as usize).is_multiple_of(2);
            let hz = off_hz + if mark { 1000.0 } else { 1170.0 };
            0.1 * (std::f64::consts::TAU * hz * t).cos()
        }));
        let mut tracks = [1000.0, 1170.0].map(Track::constant);
        let mut cutter = ToneCutter::new(BandPlan::new(RATE_HZ), 1.0 / ELEMENT_S);
        let window = Window::cut(&mut cutter, &sound, &tracks, ELEMENT_S, (1.0, 2.5));
        let noise = [(NOISE * NOISE / RATE_HZ / ELEMENT_S) as f32; 2];
        let known = Known {
            tracks: &tracks,
            levels: &Levels::new([0.0025; 2], noise),
            priors: &LinePriors::unknown(STEPS),
            carry: &Carry::nothing(),
            ln_i0: &LnI0::default(),
        };
        let mut reading = window.read(&known);
        let element = |k: usize| Span {
            from: k * STEPS,
            to: (k + 1) * STEPS,
            mark: if k.is_multiple_of(2) { 1.0 } else { 0.0 },
            on,
        };
        reading.spans = (0..window.grid.points / STEPS).map(element).collect();
        tune(&mut tracks, &window, &reading, noise);
        tracks
    }

    /// What may be chance is left alone, so tracks are pulled in most of the way at once and
    /// the rest in later windows, never beyond the tone.
    #[test]
    fn tracks_are_pulled_in() {
        for off_hz in [-14.0, -10.0, -8.0, 8.0, 9.0, 12.0] {
            for (track, hz) in tuned(off_hz, 1.0).iter().zip([1000.0, 1170.0]) {
                let share = (track.hz(1.8) - hz) / off_hz;
                assert!(
                    (0.75..1.05).contains(&share),
                    "{off_hz} Hz: moved {share} of it"
                );
            }
        }
    }

    #[test]
    fn clean_tones_are_believed_however_near_they_lie() {
        for off_hz in [2.0, 4.0, 6.0, 8.0] {
            let share = (tuned(off_hz, 1.0)[0].hz(1.8) - 1000.0) / off_hz;
            assert!(
                (share - 1.0).abs() < 0.1,
                "{off_hz} Hz: moved {share} of it"
            );
        }
    }

    #[test]
    fn what_may_be_chance_moves_nothing() {
        for tracks in [tuned(0.0, 1.0), tuned(8.0, 0.0)] {
            for (track, hz) in tracks.iter().zip([1000.0, 1170.0]) {
                assert!((track.hz(1.8) - hz).abs() < 0.2, "{}", track.hz(1.8));
            }
        }
    }
}
