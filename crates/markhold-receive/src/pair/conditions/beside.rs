//! What else there is in the spectrum around the tones while a character is sent.

use markhold_signal::Band;

use super::{Lies, Surroundings};

/// What is looked at on either side of the pair, Hz.
const REACH_HZ: f64 = 300.0;
/// What a keyed tone covers on either side, modulation rates.
const COVERED: f64 = 1.6;
/// Where, among the powers beside the tones in order, the noise is taken.
const QUANTILE: f64 = 0.4;

/// What was heard beside the tones; see [`super::Conditions`].
pub struct Beside {
    pub under: [f32; 2],
    pub strongest: f32,
    pub floor_db: f32,
}

/// Measures what is beside the tones.
pub fn measure(of: &Surroundings, lies: &Lies) -> Beside {
    let nothing = Beside {
        under: [1.0; 2],
        strongest: 1.0,
        floor_db: 0.0,
    };
    let (powers, count) = powers(of, lies);
    if count == 0 || powers.is_empty() {
        return nothing;
    }
    let mut sorted = powers;
    sorted.sort_by(f32::total_cmp);
    let noise = sorted[(sorted.len() as f64 * QUANTILE) as usize].max(f32::MIN_POSITIVE);
    let band = of.sound.band().plan();
    let element_s = of.window.grid.element_s();
    // From the noise of an element in a narrow stream to that of a bin.
    let scale = (1.5 * band.frame as f64 * band.rate_hz * element_s) as f32 * count as f32;
    Beside {
        under: [0, 1].map(|k| of.noise(k) * scale / noise),
        strongest: sorted[sorted.len() - 1] / noise,
        floor_db: 10.0 * (noise / count as f32).log10(),
    }
}

/// Sums, over the frames that cover the character, of the power of every bin beside the
/// tones, and the number of those frames.
fn powers(of: &Surroundings, lies: &Lies) -> (Vec<f32>, usize) {
    let band = of.sound.band();
    let plan = band.plan();
    let middle = (lies.from_s + lies.to_s) / 2.0;
    let tones = [0, 1].map(|k| of.tracks[k].hz(middle));
    let covered = COVERED / of.window.grid.element_s();
    let bin = |hz: f64| (hz / plan.bin_hz()).round().max(1.0) as usize;
    let (low, high) = (tones[0].min(tones[1]), tones[0].max(tones[1]));
    let range = bin(low - REACH_HZ)..bin(high + REACH_HZ).min(plan.frame / 2 - 1);
    let free = |k: &usize| {
        let hz = *k as f64 * plan.bin_hz();
        tones.iter().all(|t| (hz - t).abs() > covered)
    };
    let bins: Vec<usize> = range.filter(free).collect();
    let first = plan
        .frame_holding((lies.from_s * plan.rate_hz) as i64)
        .max(band.oldest_frame());
    let last = plan.frame_holding((lies.to_s * plan.rate_hz) as i64);
    let frames: Vec<_> = (first..=last).filter_map(|i| band.frame(i)).collect();
    let power = |k: &usize| frames.iter().map(|f| Band::hann_power(f, *k)).sum::<f32>();
    (bins.iter().map(power).collect(), frames.len())
}
