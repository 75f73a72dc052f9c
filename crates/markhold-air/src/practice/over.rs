//! One station without an end: its text, a pause, its text again.

use super::station::PracticeStation;
use crate::arriving::Arriving;
use crate::random::{Part, random, uniform};
use crate::times::Times;
use num_complex::Complex64;

/// Each station may take this many overs before its random streams are those of the next.
const OVERS: usize = 1 << 20;

/// A station's complex baseband as it arrives, mark above where it is on the air.
#[derive(Clone, Debug)]
pub(super) struct Overs {
    // Configured.
    station: &'static PracticeStation,
    index: usize,
    sample_rate: f64,
    seed: u64,
    // Derived.
    amplitude: f64,
    // State.
    count: usize,
    arriving: Arriving,
    /// Samples left of this over with the pause after it.
    left: u64,
}

impl Overs {
    pub(super) fn new(
        station: &'static PracticeStation,
        index: usize,
        sample_rate: f64,
        seed: u64,
    ) -> Self {
        let (arriving, left) = over(station, sample_rate, (seed, index * OVERS));
        Self {
            // A real tone has half the power of its analytic signal.
            amplitude: (2.0 * 10f64.powf(station.level_db / 10.0)).sqrt(),
            station,
            index,
            sample_rate,
            seed,
            count: 0,
            arriving,
            left,
        }
    }

    /// How many overs came before this one.
    #[cfg(test)]
    pub(super) fn overs(&self) -> usize {
        self.count
    }

    /// The next sample.
    pub(super) fn next(&mut self) -> Complex64 {
        if self.left == 0 {
            self.count += 1;
            let stream = (self.seed, self.index * OVERS + self.count % OVERS);
            (self.arriving, self.left) = over(self.station, self.sample_rate, stream);
        }
        self.left -= 1;
        self.arriving.next() * self.amplitude
    }
}

/// One over, and how many samples pass until the next.
fn over(
    station: &PracticeStation,
    sample_rate: f64,
    (seed, stream): (u64, usize),
) -> (Arriving, u64) {
    let sender = station.sender();
    // A sender that does not repeat ends by itself.
    let times = Times::of(&sender, None, seed, stream).unwrap_or(Times {
        text_until_s: 0.0,
        end_s: 0.0,
    });
    let pause = uniform(&mut random(seed, Part::Oscillator, stream), 0.5, 1.5);
    let lasts_s = times.end_s + pause * station.pause_s;
    let samples = (lasts_s * sample_rate).ceil().max(1.0) as u64;
    (
        Arriving::new(&sender, times, sample_rate, (seed, stream)),
        samples,
    )
}
