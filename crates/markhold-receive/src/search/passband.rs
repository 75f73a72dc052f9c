//! The passband: how much noise the receiver's filter lets through, told by time.
//!
//! Over frequency a floor is a quantile of the bins around, which falls into the skirts of a
//! narrow filter and beside the edge of a wide one. Noise there is told by time instead: its
//! power in one bin of 16 ms is exponential, whatever its mean, while a steady tone's hardly
//! moves and a keyed one's moves more. A tone is keyed over two or three such bins, a
//! passband fills more: what is left when narrow humps are taken off is noise. Several tones in
//! one bin vary together as noise does; but they are lines with little between them, and there is
//! no more noise than lies there.
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
/// Upper quartile over median, each as the noise that has it, of a tone that is there most of
/// the time, as idle mark is between characters typed by hand: 0.5, noise 1. Its lower quartile
/// may be anything, that of noise too.
const MOSTLY_THERE: f32 = 0.65;
/// The lower quartile of a tone that is off half of the time is the median of the noise:
/// ln 2 over ln(4/3).
const HALF_OFF: f32 = 2.41;
/// Of the bins in which there is noise, so large a share holds less than well-filled ones.
const WELL_FILLED: f32 = 0.9;
/// What lies 30 dB below the noise of those is outside the receiver's filter, where nothing
/// is sought that does not stand out of as much.
const OUTSIDE: f32 = 1e-3;

/// Noise by time: the variance of the white noise that is as strong as the noise there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Passband {
    /// One value per bin; 0 where nothing is known.
    noise: Vec<f32>,
    /// As much there is everywhere.
    least: f32,
    bin_hz: f64,
}

impl Passband {
    /// From what bins `bin_hz` apart hold over time, and what lies between lines around a
    /// frequency, Hz, at most, as variance.
    pub fn new(bins: &[BinPower], bin_hz: f64, between: impl Fn(f64) -> f32) -> Self {
        let at_most = |(k, bin): (usize, &BinPower)| {
            noise_in(bin).map(|noise| noise.min(between(k as f64 * bin_hz)))
        };
        let noise = opened(&bins.iter().enumerate().map(at_most).collect::<Vec<_>>());
        let mut some: Vec<f32> = noise.iter().copied().filter(|n| *n > 0.0).collect();
        some.sort_by(f32::total_cmp);
        let filled = some.get((some.len() as f32 * WELL_FILLED) as usize);
        Self {
            least: OUTSIDE * filled.copied().unwrap_or(0.0),
            noise,
            bin_hz,
        }
    }

    /// Noise at `hz`, a straight line from bin to bin; 0 where nothing is known.
    pub fn at(&self, hz: f64) -> f32 {
        if self.noise.is_empty() {
            return 0.0;
        }
        let place = (hz / self.bin_hz).max(0.0);
        let (k, part) = (place as usize, place.fract() as f32);
        let noise = match (self.noise.get(k), self.noise.get(k + 1)) {
            (Some(a), Some(b)) => a + (b - a) * part,
            _ => 0.0,
        };
        noise.max(self.least)
    }
}

/// Noise in each bin without humps too narrow for a passband.
fn opened(noise: &[Option<f32>]) -> Vec<f32> {
    let least = |k: usize| {
        let near = &noise[k.saturating_sub(1)..(k + 2).min(noise.len())];
        near.iter()
            .flatten()
            .copied()
            .reduce(f32::min)
            .unwrap_or(0.0)
    };
    let opened: Vec<f32> = (0..noise.len()).map(least).collect();
    let most = |k: usize| {
        let near = &opened[k.saturating_sub(2)..(k + 3).min(opened.len())];
        near.iter().copied().fold(0.0, f32::max)
    };
    (0..noise.len()).map(most).collect()
}

/// Noise in one bin; `None` under a tone that is always or mostly there, which hides it.
fn noise_in(bin: &BinPower) -> Option<f32> {
    let ratio = bin.high / bin.low.max(f32::MIN_POSITIVE);
    let top = bin.high / bin.middle.max(f32::MIN_POSITIVE);
    match ratio {
        _ if ratio < STEADY => None,
        _ if ratio > KEYED => Some(bin.low / HALF_OFF),
        _ if top < MOSTLY_THERE => None,
        _ => Some((bin.low * bin.high).sqrt()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even(power: f32) -> BinPower {
        BinPower {
            low: power,
            middle: power,
            high: power,
        }
    }

    fn keyed(noise: f32, tone: f32) -> BinPower {
        BinPower {
            low: noise * HALF_OFF,
            middle: tone,
            high: tone,
        }
    }

    fn steady(tone: f32) -> BinPower {
        // Quantiles of a steady power lie as far apart as ln(4/3), ln 2 and ln 4 the other way
        // round.
        BinPower {
            low: tone / 0.288,
            middle: tone / 0.693,
            high: tone / 1.386,
        }
    }

    /// A tone that is there four times in five, with a lower quartile as noise would have it.
    fn mostly(tone: f32) -> BinPower {
        BinPower {
            low: tone / 1.386,
            ..steady(tone)
        }
    }

    /// Noise at every bin of a band of 64.
    fn noise(bins: &[BinPower]) -> Vec<f32> {
        let passband = Passband::new(bins, 62.5, |_| f32::INFINITY);
        (0..64).map(|k| passband.at(62.5 * f64::from(k))).collect()
    }

    #[test]
    fn a_passband_of_any_width_is_followed_into_its_edges() {
        for width in 4..30 {
            let mut bins = [even(1e-5); 64];
            bins[20..20 + width].fill(even(2.0));
            let found = noise(&bins);
            assert!(found[20..20 + width].iter().all(|n| *n == 2.0), "{width}");
            let outside = found[..18].iter().chain(&found[22 + width..]);
            let least = 2.0 * OUTSIDE;
            assert!(outside.clone().all(|n| *n <= least), "{width}: {found:?}");
        }
    }

    #[test]
    fn tones_are_no_passband() {
        for strength in [3.0, 30.0, 3e4] {
            for width in 1..3 {
                for tone in [keyed(1.0, strength), steady(strength), even(strength)] {
                    let mut bins = [even(1.0); 64];
                    bins[24..24 + width].fill(tone);
                    bins[27..27 + width].fill(tone);
                    assert!(noise(&bins)[..62].iter().all(|n| *n == 1.0), "{tone:?}");
                }
            }
        }
    }

    #[test]
    fn keyed_tones_in_a_narrow_filter_leave_its_noise() {
        let mut bins = [even(1e-5); 64];
        bins[20..26].fill(even(1.0));
        bins[21..23].fill(keyed(1.0, 50.0));
        bins[23..25].fill(keyed(1.0, 50.0));
        let found = noise(&bins);
        assert!(
            found[20..26].iter().all(|n| (n - 1.0).abs() < 1e-3),
            "{found:?}"
        );
    }

    #[test]
    fn a_tone_that_is_mostly_there_is_none_however_many_bins_it_fills() {
        for width in 1..5 {
            let mut bins = [even(1.0); 64];
            bins[24..24 + width].fill(mostly(300.0));
            assert!(noise(&bins)[..62].iter().all(|n| *n == 1.0), "{width}");
        }
    }

    #[test]
    fn tones_that_vary_together_are_as_little_noise_as_lies_between_them() {
        let mut bins = [even(1.0); 64];
        bins[24..30].fill(even(50.0));
        let between = |hz: f64| {
            if (1500.0..1876.0).contains(&hz) {
                1.5
            } else {
                1.0
            }
        };
        let passband = Passband::new(&bins, 62.5, between);
        assert_eq!(passband.at(1700.0), 1.5);
        assert_eq!(passband.at(1000.0), 1.0);
    }

    #[test]
    fn nothing_known_is_nothing() {
        assert_eq!(Passband::default().at(1000.0), 0.0);
        assert_eq!(
            Passband::new(&[steady(1.0); 64], 62.5, |_| 1.0).at(1000.0),
            0.0
        );
    }
}
