//! Edges of a line contact recorded as it is: the voltage across a resistor, by way of a
//! sound input that passes no direct current.
//!
//! ```text
//!   line      ____|‾‾‾‾‾‾‾|____      what comes   ____|\_      ____
//!                                    through            ‾‾‾‾|/‾
//! ```
//!
//! An edge is a jump, whatever the input lets droop afterwards. Jumps stand out of the
//! difference of the means after and before each instant; the instant itself is where the
//! sound passes half-way between the two.

use super::HearError;
use crate::line::Edge;

/// Means are taken over this long, s: two fifths of the shortest element at 100 Bd and 50 %
/// distortion; a bouncing contact (1 ms, common practice) is averaged away.
const MEAN_S: f64 = 0.002;
/// An edge is a jump at least this share of the usual ones.
const LEAST: f64 = 0.5;
/// Jumps stand so seldom that this share of all instants has none of them.
const QUIET: f64 = 0.5;
/// Share of all instants that lies below the usual jumps.
const JUMPS: f64 = 0.99;
/// Jumps stand this far above what is there without them.
const ABOVE_NOISE: f64 = 6.0;
/// Jumps make the sound: they are at least this share of its rms. (What is left of a tone
/// whose period fits the means is far less.)
const LEAST_OF_RMS: f64 = 0.2;
/// Error of finding a passage between two samples, samples (measured in `tests/sound.rs`).
const PASSAGE: f64 = 0.1;

/// Edges, and how far noise and sampling move them, s, rms.
pub(super) struct Jumps {
    pub(super) line: Vec<Edge>,
    pub(super) noise_s: f64,
}

/// Finds the jumps; up is taken as mark.
pub(super) fn jumps(sound: &[f32], rate_hz: f64) -> Result<Jumps, HearError> {
    let mean = ((MEAN_S * rate_hz).round() as usize).max(2);
    let steps = steps(sound, mean);
    let mut sizes: Vec<f64> = steps.iter().map(|d| d.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let at = |share: f64| sizes.get((share * sizes.len() as f64) as usize).copied();
    let (Some(quiet), Some(usual)) = (at(QUIET), at(JUMPS)) else {
        return Err(HearError::NoKeying { found: 0 });
    };
    let power: f64 = sound.iter().map(|x| f64::from(*x).powi(2)).sum();
    let rms = (power / sound.len() as f64).sqrt();
    if !(usual > ABOVE_NOISE * quiet && usual > LEAST_OF_RMS * rms) {
        return Err(HearError::NoKeying { found: 0 });
    }
    let mut line: Vec<Edge> = Vec::new();
    let mut k = 0;
    while k < steps.len() {
        if steps[k].abs() < LEAST * usual {
            k += 1;
            continue;
        }
        let up = steps[k] > 0.0;
        let begin = k;
        while k < steps.len() && steps[k].abs() >= LEAST * usual && (steps[k] > 0.0) == up {
            k += 1;
        }
        let peak = (begin..k).max_by(|a, b| steps[*a].abs().total_cmp(&steps[*b].abs()));
        let Some(at) = peak.map(|p| passage(sound, p + mean, mean, up)) else {
            continue;
        };
        // A second jump the same way is a bounce, not an edge.
        if line.last().is_none_or(|last| last.mark != up) {
            let at_s = at / rate_hz;
            line.push(Edge { at_s, mark: up });
        }
    }
    let noise_s = (MEAN_S * quiet / usual).hypot(PASSAGE / rate_hz);
    Ok(Jumps { line, noise_s })
}

/// Mean of the `mean` samples from each instant on, less that of the `mean` before it; the
/// first stands at sample `mean`.
fn steps(sound: &[f32], mean: usize) -> Vec<f64> {
    let mut sums = vec![0.0];
    for x in sound {
        sums.push(sums[sums.len() - 1] + f64::from(*x));
    }
    (mean..sound.len().saturating_sub(mean))
        .map(|k| (sums[k + mean] - 2.0 * sums[k] + sums[k - mean]) / mean as f64)
        .collect()
}

/// Where the sound passes half-way from before to after the jump at sample `k`, in samples.
fn passage(sound: &[f32], k: usize, mean: usize, up: bool) -> f64 {
    let level = |from: usize, to: usize| {
        let part = &sound[from.min(sound.len())..to.min(sound.len())];
        part.iter().map(|x| f64::from(*x)).sum::<f64>() / part.len().max(1) as f64
    };
    // Two samples on both sides may hold the ringing of the recorder's filter.
    let near = (mean / 2).max(3);
    let before = level(k.saturating_sub(near), k.saturating_sub(2));
    let after = level(k + 2, k + near);
    let half = (before + after) / 2.0;
    let sign = if up { 1.0 } else { -1.0 };
    let over = |i: usize| sign * (f64::from(sound[i]) - half);
    let (from, to) = (k.saturating_sub(near).max(1), (k + near).min(sound.len()));
    (from..to)
        .find(|i| over(*i - 1) <= 0.0 && over(*i) > 0.0)
        .map_or(k as f64, |i| {
            let (a, b) = (over(i - 1), over(i));
            (i - 1) as f64 + a / (a - b)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_and_a_steady_tone_hold_no_jumps() {
        for hz in [0.0, 50.0, 1000.0] {
            let sound: Vec<f32> = (0..16_000)
                .map(|k| (std::f64::consts::TAU * hz * f64::from(k) / 8000.0).sin() as f32)
                .collect();
            assert!(jumps(&sound, 8000.0).is_err(), "{hz}");
        }
        assert!(jumps(&[], 8000.0).is_err());
    }
}
