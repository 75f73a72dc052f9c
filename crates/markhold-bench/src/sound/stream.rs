//! The stream around the tones: analytic, moved down to their middle, slow enough to be
//! cheap.

use super::pair::Pair;
use markhold_signal::{Band, BandPlan, Complex32, Extractor};

/// Least rate of the stream, Hz: an edge falls between two of its samples, and 4000 of them
/// a second leave it within 0.25 ms before interpolation.
const LEAST_RATE_HZ: f64 = 4000.0;
/// Width of the filter's flanks, Hz: its response then dies away within 48 ms, as the band
/// asks for.
const FLANK_HZ: f64 = 80.0;

/// Analytic samples around a pair.
pub(super) struct Stream {
    /// Samples, a tone of amplitude `a` having `a/2`.
    pub(super) samples: Vec<Complex32>,
    /// Samples a second, Hz.
    pub(super) rate_hz: f64,
    /// Time of the first sample, s from the first of the sound.
    pub(super) begin_s: f64,
    /// Frequency of the sound that lies at 0 Hz here.
    pub(super) centre_hz: f64,
}

impl Stream {
    /// Takes the stream around `pair` out of sound, with `beyond_hz` on both sides.
    pub(super) fn new(sound: &[f32], rate_hz: f64, pair: Pair, beyond_hz: f64) -> Self {
        let plan = BandPlan::new(rate_hz);
        let half_hz = (pair.high_hz - pair.low_hz) / 2.0;
        // Flat no further than to 0 Hz, where the image of the tones begins.
        let flat_hz = (half_hz + beyond_hz)
            .min(pair.middle_hz() - FLANK_HZ)
            .max(half_hz + FLANK_HZ / 2.0);
        let least_hz = LEAST_RATE_HZ.max(2.5 * (flat_hz + FLANK_HZ));
        let mut extractor = Extractor::new(plan, least_hz.min(rate_hz));
        let centre = (pair.middle_hz() / plan.bin_hz()).round() as usize;
        let response = response(&extractor, plan.bin_hz(), flat_hz);
        let mut samples = Vec::new();
        let mut band = Band::new(plan, 1);
        let silence = vec![0.0; plan.frame];
        for mut part in [sound, &silence] {
            while !part.is_empty() {
                let (taken, complete) = band.push(part);
                part = &part[taken..];
                let index = band.next_frame().saturating_sub(1);
                if let (true, Some(bins)) = (complete, band.frame(index)) {
                    extractor.extract(bins, index, centre, &response, &mut samples);
                }
            }
        }
        Self {
            samples,
            rate_hz: extractor.rate_hz(),
            begin_s: plan.output_start(0) as f64 / rate_hz,
            centre_hz: centre as f64 * plan.bin_hz(),
        }
    }
}

/// Flat to `flat_hz` on both sides, then down along a cosine.
fn response(extractor: &Extractor, bin_hz: f64, flat_hz: f64) -> Vec<f32> {
    let half = extractor.bins() / 2;
    (0..extractor.bins())
        .map(|i| {
            let off_hz = i.abs_diff(half) as f64 * bin_hz;
            let down = ((off_hz - flat_hz) / FLANK_HZ).clamp(0.0, 1.0);
            (0.5 + 0.5 * (std::f64::consts::PI * down).cos()) as f32
        })
        .collect()
}
