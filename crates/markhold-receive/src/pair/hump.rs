//! Humps: what a keyed tone looks like in a frame of the band.

use markhold_signal::{Band, Complex32};

use super::others::Frame;

/// Shape of a keyed tone's hump over bins beside its middle.
pub const HUMP: [f32; 7] = [0.25, 0.55, 0.85, 1.0, 0.85, 0.55, 0.25];

/// Frames from one on, as far as their middles lie before an instant.
pub fn frames(band: &Band, first: u64, until_s: f64) -> Vec<Frame<'_>> {
    let all = (first..band.next_frame()).map(|i| (band.plan().middle_s(i), i));
    let before = all.take_while(|(t, _)| *t < until_s);
    before
        .filter_map(|(t, i)| Some((t, band.frame(i)?)))
        .collect()
}

/// Power of a hump around a bin, over noise and others.
pub fn hump_power(bins: &[Complex32], centre: i64, beneath: impl Fn(i64) -> f32) -> f32 {
    let half = (HUMP.len() / 2) as i64;
    let (mut sum, mut weight) = (0.0, 0.0);
    for (j, w) in (-half..=half).zip(HUMP) {
        let k = centre + j;
        if k >= 1 && (k as usize) < bins.len() - 1 {
            let over = Band::hann_power(bins, k as usize) / beneath(k).max(f32::MIN_POSITIVE);
            sum += w * over;
            weight += w;
        }
    }
    sum / f32::max(weight, 1e-6)
}
