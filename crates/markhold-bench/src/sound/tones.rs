//! Where the tones are.

use super::HearError;
use super::discriminator::median;
use super::pair::Pair;
use super::stream::Stream;
use markhold_signal::{Band, BandPlan};

/// Least distance of two tones that are told apart here, Hz.
const LEAST_SHIFT_HZ: f64 = 50.0;
/// Largest distance looked for, Hz: 850 Hz is the widest in use (common practice).
const MOST_SHIFT_HZ: f64 = 1000.0;
/// Lowest tone looked for, Hz: below is hum.
const LOWEST_HZ: f64 = 150.0;
/// Spectra are smoothed over this much, Hz, before humps are looked for.
const SMOOTH_HZ: f64 = 24.0;
/// A hump stands this far above the noise around, as a ratio (6 dB).
const ABOVE_NOISE: f64 = 4.0;
/// The weaker tone may be this far below the stronger (20 dB): a line that mostly rests.
const WEAKER: f64 = 0.01;
/// Window while the tones are looked for, s, and how far beyond them, Hz: half an element
/// and twice the rate at 100 Bd and 50 Bd.
const WINDOW_S: f64 = 0.010;
const BEYOND_HZ: f64 = 100.0;

/// The two tones of a keyed pair.
///
/// # Errors
///
/// No tone, or only one, stands out.
pub fn find_pair(sound: &[f32], rate_hz: f64) -> Result<Pair, HearError> {
    let spectrum = Spectrum::of(sound, rate_hz);
    let first = spectrum.strongest(|_| true).ok_or(HearError::NoTones)?;
    let hz = spectrum.hz(first);
    let near = |bin: usize| {
        let off = (spectrum.hz(bin) - hz).abs();
        let strong = spectrum.power[bin] > WEAKER * spectrum.power[first];
        (LEAST_SHIFT_HZ..=MOST_SHIFT_HZ).contains(&off) && strong
    };
    let second = spectrum.strongest(near).ok_or(HearError::OneTone { hz })?;
    let other_hz = spectrum.hz(second);
    let mut pair = Pair {
        low_hz: hz.min(other_hz),
        high_hz: hz.max(other_hz),
    };
    // Humps of keyed tones lean towards each other; the frequency between edges does not.
    for _ in 0..2 {
        let stream = Stream::new(sound, rate_hz, pair, BEYOND_HZ);
        let found = super::discriminator::frequency(&stream, pair, WINDOW_S);
        pair = found.map_or(pair, |curve| curve.pair);
    }
    Ok(pair)
}

/// The strongest tone, Hz.
///
/// # Errors
///
/// No tone stands out.
pub fn find_carrier(sound: &[f32], rate_hz: f64) -> Result<f64, HearError> {
    let spectrum = Spectrum::of(sound, rate_hz);
    let bin = spectrum.strongest(|_| true).ok_or(HearError::NoTones)?;
    Ok(spectrum.hz(bin))
}

/// Mean power over frequency, smoothed.
struct Spectrum {
    power: Vec<f64>,
    bin_hz: f64,
    floor: f64,
}

impl Spectrum {
    fn of(sound: &[f32], rate_hz: f64) -> Self {
        let plan = BandPlan::new(rate_hz);
        let mut band = Band::new(plan, 1);
        let mut sums = vec![0.0; plan.frame / 2 + 1];
        let mut rest = sound;
        while !rest.is_empty() {
            let (taken, complete) = band.push(rest);
            rest = &rest[taken..];
            if let (true, Some(bins)) = (complete, band.frame(band.next_frame() - 1)) {
                for (k, sum) in sums.iter_mut().enumerate().skip(1).take(plan.frame / 2 - 1) {
                    *sum += f64::from(Band::hann_power(bins, k));
                }
            }
        }
        let reach = (SMOOTH_HZ / 2.0 / plan.bin_hz()).round() as usize;
        let power: Vec<f64> = (0..sums.len())
            .map(|k| {
                let part = &sums[k.saturating_sub(reach)..(k + reach + 1).min(sums.len())];
                part.iter().sum::<f64>() / part.len() as f64
            })
            .collect();
        let floor = median(power.iter().copied()).unwrap_or(0.0);
        Self {
            power,
            bin_hz: plan.bin_hz(),
            floor,
        }
    }

    fn hz(&self, bin: usize) -> f64 {
        bin as f64 * self.bin_hz
    }

    /// The strongest hump among the bins that `fits` lets through.
    fn strongest(&self, fits: impl Fn(usize) -> bool) -> Option<usize> {
        let top = |k: &usize| {
            let p = self.power[*k];
            self.hz(*k) >= LOWEST_HZ
                && p > ABOVE_NOISE * self.floor
                && p >= self.power[k - 1]
                && p > self.power[k + 1]
                && fits(*k)
        };
        (1..self.power.len().saturating_sub(1))
            .filter(top)
            .max_by(|a, b| self.power[*a].total_cmp(&self.power[*b]))
    }
}
