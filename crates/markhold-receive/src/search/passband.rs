//! The passband: how much noise the receiver's filter lets through, told by time.
//!
//! Over frequency a floor is a quantile of the bins around, which falls into the skirts of a
//! narrow filter and beside the edge of a wide one. Noise there is told by time instead: its
//! power in one bin of 16 ms is exponential, whatever its mean, while a steady tone's hardly
//! moves and a keyed one's moves more. A tone is keyed over two or three such bins, a
//! passband fills more: what is left when narrow humps are taken off is noise.
//!
//! ```text
//!   bins     _||_   ____||__||____    tones and passband
//!   least of three     __________     no hump narrower than 190 Hz
//!   most of five     ______________   and as wide as before, its edge included
//! ```

use markhold_signal::level::BinPower;

/// Upper over lower quartile, each as the noise that has it: noise has 1, its followed
/// quartiles scatter by a factor of 1.6, steady tones have 0.2.
const STEADY: f32 = 0.5;
const KEYED: f32 = 1.65;
/// The lower quartile of a tone that is off half of the time is the median of the noise:
/// ln 2 over ln(4/3).
const HALF_OFF: f32 = 2.41;

/// Noise by time: the variance of the white noise that is as strong as the noise there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Passband {
    /// One value per bin; 0 where nothing is known.
    noise: Vec<f32>,
    bin_hz: f64,
}

impl Passband {
    /// From what bins `bin_hz` apart hold over time.
    pub fn new(bins: &[BinPower], bin_hz: f64) -> Self {
        Self {
            noise: opened(bins),
            bin_hz,
        }
    }

    /// Noise at `hz`, a straight line from bin to bin; 0 where nothing is known.
    pub fn at(&self, hz: f64) -> f32 {
        let place = (hz / self.bin_hz).max(0.0);
        let (k, part) = (place as usize, place.fract() as f32);
        match (self.noise.get(k), self.noise.get(k + 1)) {
            (Some(a), Some(b)) => a + (b - a) * part,
            _ => 0.0,
        }
    }
}

/// Noise in each bin without humps too narrow for a passband.
fn opened(bins: &[BinPower]) -> Vec<f32> {
    let noise: Vec<Option<f32>> = bins.iter().map(noise_in).collect();
    let least = |k: usize| {
        let near = &noise[k.saturating_sub(1)..(k + 2).min(noise.len())];
        near.iter().flatten().copied().reduce(f32::min).unwrap_or(0.0)
    };
    let opened: Vec<f32> = (0..bins.len()).map(least).collect();
    let most = |k: usize| {
        let near = &opened[k.saturating_sub(2)..(k + 3).min(opened.len())];
        near.iter().copied().fold(0.0, f32::max)
    };
    (0..bins.len()).map(most).collect()
}

/// Noise in one bin; `None` under a steady tone, which hides it.
fn noise_in(bin: &BinPower) -> Option<f32> {
    let ratio = bin.high / bin.low.max(f32::MIN_POSITIVE);
    match ratio {
        _ if ratio < STEADY => None,
        _ if ratio > KEYED => Some(bin.low / HALF_OFF),
        _ => Some((bin.low * bin.high).sqrt()),
    }
}
