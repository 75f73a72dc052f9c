//! From the stream to a curve that is +1 on the lower tone, -1 on the higher one, and
//! crosses 0 at the edges; with one tone it is +1 while the tone is on.

use super::pair::Pair;
use super::stream::Stream;
use markhold_signal::Complex64;
use std::f64::consts::{PI, TAU};

/// The signal counts as gone below this share of its median amplitude. One tone may be 9 dB
/// weaker than the other; noise without signal stays below down to Es/N0 of about 25 dB.
const GONE: f32 = 0.35;

/// A smoothed curve over time.
pub(super) struct Curve {
    /// +1, -1 or between; NaN where the signal is gone.
    pub(super) values: Vec<f64>,
    /// Samples a second, Hz.
    pub(super) rate_hz: f64,
    /// Time of the first value, s.
    pub(super) begin_s: f64,
    /// Length of the smoothing window, s.
    pub(super) window_s: f64,
    /// The tones as this curve found them, Hz.
    pub(super) pair: Pair,
}

/// The instantaneous frequency, smoothed. `None` if one of the tones never comes.
pub(super) fn frequency(stream: &Stream, pair: Pair, window_s: f64) -> Option<Curve> {
    // The turn from one sample to the next is the mean frequency between the two.
    let turns: Vec<f64> = stream
        .samples
        .windows(2)
        .map(|two| f64::from((two[1] * two[0].conj()).arg()) * stream.rate_hz / TAU)
        .collect();
    let amplitudes: Vec<f32> = stream.samples.iter().map(|y| y.norm()).collect();
    let present = present(&amplitudes, window_s * stream.rate_hz);
    let smoothed: Vec<f64> = smooth(&turns, window_s * stream.rate_hz)
        .into_iter()
        .zip(present)
        .map(|(hz, present)| if present { hz } else { f64::NAN })
        .collect();
    let middle = pair.middle_hz() - stream.centre_hz;
    let low = median(smoothed.iter().copied().filter(|hz| *hz < middle))?;
    let high = median(smoothed.iter().copied().filter(|hz| *hz > middle))?;
    let (middle, half) = ((low + high) / 2.0, (high - low) / 2.0);
    Some(Curve {
        values: smoothed.iter().map(|hz| (middle - hz) / half).collect(),
        rate_hz: stream.rate_hz,
        begin_s: stream.begin_s + 0.5 / stream.rate_hz,
        window_s,
        pair: Pair {
            low_hz: stream.centre_hz + low,
            high_hz: stream.centre_hz + high,
        },
    })
}

/// The amplitude of one tone, smoothed as a complex stream so that noise averages out.
/// `None` if it is never on.
pub(super) fn amplitude(stream: &Stream, window_s: f64) -> Option<Curve> {
    let taps = window_s * stream.rate_hz;
    let part = |of: fn(&Complex64) -> f64| {
        let values: Vec<f64> = stream
            .samples
            .iter()
            .map(|y| of(&Complex64::new(y.re.into(), y.im.into())))
            .collect();
        smooth(&values, taps)
    };
    let (re, im) = (part(|y| y.re), part(|y| y.im));
    let sizes: Vec<f64> = re.iter().zip(&im).map(|(re, im)| re.hypot(*im)).collect();
    let most = sizes.iter().copied().fold(0.0, f64::max);
    let on = median(sizes.iter().copied().filter(|a| *a > most / 2.0))?;
    let off = median(sizes.iter().copied().filter(|a| *a < on / 2.0)).unwrap_or(0.0);
    let (middle, half) = ((on + off) / 2.0, (on - off) / 2.0);
    (half > 0.0).then(|| Curve {
        values: sizes.iter().map(|a| (a - middle) / half).collect(),
        rate_hz: stream.rate_hz,
        begin_s: stream.begin_s,
        window_s,
        pair: Pair {
            low_hz: stream.centre_hz,
            high_hz: stream.centre_hz,
        },
    })
}

/// Where the signal is there, one value for each turn: half a window around a gap is gone
/// with it.
fn present(amplitudes: &[f32], window: f64) -> Vec<bool> {
    let smoothed = smooth(
        &amplitudes.iter().map(|a| f64::from(*a)).collect::<Vec<_>>(),
        window,
    );
    let usual = median(smoothed.iter().copied().filter(|a| *a > 0.0)).unwrap_or(0.0);
    let least = f64::from(GONE) * usual;
    let count = amplitudes.len().saturating_sub(1);
    smoothed.iter().take(count).map(|a| *a > least).collect()
}

/// Smooths by a Hann window `window` samples long; beyond the ends the nearest value stays.
fn smooth(values: &[f64], window: f64) -> Vec<f64> {
    let half = (window / 2.0).ceil().max(1.0) as usize;
    let weight = |k: usize| 0.5 + 0.5 * (PI * (2.0 * k as f64 / window).min(1.0)).cos();
    let weights: Vec<f64> = (0..=half).map(weight).collect();
    let total = weights[0] + 2.0 * weights[1..].iter().sum::<f64>();
    let last = values.len().saturating_sub(1);
    (0..values.len())
        .map(|i| {
            let both = |k: usize| values[i.saturating_sub(k)] + values[(i + k).min(last)];
            let sides: f64 = (1..=half).map(|k| weights[k] * both(k)).sum();
            (weights[0] * values[i] + sides) / total
        })
        .collect()
}

/// The median of numbers; `None` of none.
pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut all: Vec<f64> = values.collect();
    let middle = all.len() / 2;
    (!all.is_empty()).then(|| *all.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_crossed_in_its_middle() {
        let step: Vec<f64> = (0..200).map(|k| if k < 100 { -1.0 } else { 1.0 }).collect();
        for window in [5.0, 22.5, 44.0] {
            let smoothed = smooth(&step, window);
            let (before, after) = (smoothed[99], smoothed[100]);
            assert!((before + after).abs() < 1e-12 && before < 0.0, "{window}");
            assert!((smoothed[20] + 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn medians() {
        assert_eq!(median([3.0, 1.0, 2.0].into_iter()), Some(2.0));
        assert_eq!(median(std::iter::empty()), None);
    }
}
