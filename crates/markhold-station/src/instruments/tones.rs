//! Two tone filters: what the figure and the eye are drawn from.
//!
//! ```text
//!   sound -> every D-th, averaged -+-> down by mark  -> two poles -> m
//!                                  +-> down by space -> two poles -> s
//! ```

use markhold_transform::{Complex32, Complex64};
use std::f64::consts::TAU;

/// The sound is brought down to at least this many samples a second, which holds the tones.
const LEAST_HZ: f64 = 8000.0;
/// Time constant of each pole, in elements: the filter settles within an element, and at
/// 170 Hz and 45.45 baud lets 22 dB less of the other tone through.
const POLE_ELEMENTS: f64 = 0.15;

/// The tones that are looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Mark, Hz.
    pub mark_hz: f64,
    /// Space, Hz.
    pub space_hz: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
}

/// Outputs of both filters: analytic and at 0 Hz; a tone of amplitude 1 gives 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoTones {
    /// Of the mark filter.
    pub mark: Complex32,
    /// Of the space filter.
    pub space: Complex32,
}

#[derive(Clone, Debug)]
struct ToneFilter {
    turn: Complex64,
    phase: Complex64,
    share: f32,
    poles: [Complex32; 2],
}

impl ToneFilter {
    fn new(hz: f64, rate_baud: f64, rate: f64) -> Self {
        ToneFilter {
            turn: Complex64::cis(-TAU * hz / rate),
            phase: Complex64::ONE,
            share: (1.0 - (-rate_baud / (POLE_ELEMENTS * rate)).exp()) as f32,
            poles: [Complex32::ZERO; 2],
        }
    }

    fn process(&mut self, sample: f32) -> Complex32 {
        self.phase *= self.turn;
        // Twice, since half of a tone lies at negative frequency.
        let down = Complex32::new(self.phase.re as f32, self.phase.im as f32) * (2.0 * sample);
        self.poles[0] += (down - self.poles[0]) * self.share;
        self.poles[1] += (self.poles[0] - self.poles[1]) * self.share;
        self.poles[1]
    }

    /// Rounding must not let the oscillator grow or die over days.
    fn steady(&mut self) {
        self.phase /= self.phase.norm();
    }
}

/// Both filters.
#[derive(Clone, Debug)]
pub struct ToneFilters {
    // configured
    pair: Pair,
    // derived
    every: usize,
    rate: f64,
    // state
    filters: [ToneFilter; 2],
    sum: f32,
    summed: usize,
}

impl ToneFilters {
    /// Filters for `pair` in sound of `rate` Hz.
    pub fn new(rate: u32, pair: Pair) -> Self {
        let every = ((f64::from(rate) / LEAST_HZ) as usize).max(1);
        let rate = f64::from(rate) / every as f64;
        let filter = |hz| ToneFilter::new(hz, pair.rate_baud, rate);
        ToneFilters {
            pair,
            every,
            rate,
            filters: [filter(pair.mark_hz), filter(pair.space_hz)],
            sum: 0.0,
            summed: 0,
        }
    }

    /// The tones they are set to.
    pub fn pair(&self) -> Pair {
        self.pair
    }

    /// Outputs a second.
    pub fn rate(&self) -> f64 {
        self.rate
    }

    /// Takes samples; hands out what both filters give.
    pub fn process(&mut self, samples: &[f32], give: &mut dyn FnMut(TwoTones)) {
        for sample in samples {
            self.sum += sample;
            self.summed += 1;
            if self.summed == self.every {
                let sample = self.sum / self.every as f32;
                let [mark, space] = &mut self.filters;
                give(TwoTones {
                    mark: mark.process(sample),
                    space: space.process(sample),
                });
                (self.sum, self.summed) = (0.0, 0);
            }
        }
        self.filters.iter_mut().for_each(ToneFilter::steady);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAIR: Pair = Pair {
        mark_hz: 2125.0,
        space_hz: 2295.0,
        rate_baud: 45.45,
    };

    fn last(rate: u32, hz: f64) -> TwoTones {
        let turn = TAU * hz / f64::from(rate);
        let sound: Vec<f32> = (0..rate / 5)
            .map(|n| (turn * f64::from(n)).sin() as f32)
            .collect();
        let mut last = None;
        ToneFilters::new(rate, PAIR).process(&sound, &mut |tones| last = Some(tones));
        last.expect("some came out")
    }

    #[test]
    fn each_lets_its_own_tone_through_at_every_rate() {
        for rate in [6000, 8000, 11_025, 44_100, 48_000, 192_000] {
            let (mark, space) = (last(rate, 2125.0), last(rate, 2295.0));
            // Averaging over an 8000th takes 1.2 dB off at 2295 Hz.
            assert!((0.86..1.02).contains(&mark.mark.norm()), "{rate}: {mark:?}");
            assert!(
                (0.86..1.02).contains(&space.space.norm()),
                "{rate}: {space:?}"
            );
            // Two poles of 3.3 ms at 170 Hz: 1 / (1 + 3.52^2), and what the negative half of
            // the tone leaves.
            for leak in [mark.space.norm(), space.mark.norm()] {
                assert!((leak - 0.075).abs() < 0.01, "{rate}: {leak}");
            }
        }
    }
}
