//! A sender as it arrives: its keyed line over each path, at its place in the audio.

use crate::channel::Gains;
use crate::fsk::Fsk;
use crate::oscillator::Oscillator;
use crate::random::{Part, random, uniform};
use crate::sender::Sender;
use crate::times::Times;
use num_complex::Complex64;

/// A sender's complex baseband as it arrives.
#[derive(Clone, Debug)]
pub(crate) struct Arriving {
    // Configured.
    sample_s: f64,
    // State: one keyed line for each path.
    direct: Fsk,
    delayed: Option<Fsk>,
    gains: Gains,
    sample: u64,
}

impl Arriving {
    pub(crate) fn new(
        sender: &Sender,
        times: Times,
        sample_rate: f64,
        (seed, index): (u64, usize),
    ) -> Self {
        let gains = Gains::new(sender.channel, seed, index);
        let line = |delay_s| Fsk::new(sender, times, sample_rate, delay_s, (seed, index));
        Self {
            sample_s: 1.0 / sample_rate,
            direct: line(0.0),
            delayed: (gains.paths.len() == 2).then(|| line(gains.delay_s)),
            gains,
            sample: 0,
        }
    }

    /// The next sample.
    pub(crate) fn next(&mut self) -> Complex64 {
        let time_s = self.sample as f64 * self.sample_s;
        self.sample += 1;
        let direct = self.direct.next();
        let amplitude = self.gains.amplitude;
        match (self.gains.paths.as_mut_slice(), &mut self.delayed) {
            ([first, second], Some(delayed)) => {
                (direct * first.at(time_s) + delayed.next() * second.at(time_s)) * amplitude
            }
            ([only], _) => direct * only.at(time_s) * amplitude,
            _ => direct,
        }
    }
}

/// A sender as heard: arriving signal times an oscillator at the place in the audio.
#[derive(Clone, Debug)]
pub(crate) struct Heard {
    // Derived.
    amplitude: f64,
    // State.
    arriving: Arriving,
    oscillator: Oscillator,
}

impl Heard {
    pub(crate) fn new(
        sender: &Sender,
        times: Times,
        sample_rate: f64,
        (seed, index): (u64, usize),
    ) -> Self {
        let phase = uniform(&mut random(seed, Part::Oscillator, index), 0.0, 1.0);
        let hz = sender.centre_hz + sender.offset_hz;
        Self {
            // A real tone has half the power of its analytic signal.
            amplitude: (2.0 * sender.power()).sqrt(),
            arriving: Arriving::new(sender, times, sample_rate, (seed, index)),
            oscillator: Oscillator::new(hz, phase, &sender.drift, sample_rate),
        }
    }

    /// The next sample of the analytic signal.
    pub(crate) fn next(&mut self) -> Complex64 {
        self.arriving.next() * self.oscillator.next() * self.amplitude
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::Channel;
    use crate::random::cis;

    /// During idle mark the arriving signal is one tone with the gain that is told.
    #[test]
    fn idle_mark_arrives_with_the_gain_told() {
        let sender = Sender {
            channel: Channel::MID_LATITUDE_DISTURBED,
            lead_in_s: 20.0,
            ..Sender::default()
        };
        let times = Times {
            text_until_s: 0.0,
            end_s: 20.0,
        };
        let mut arriving = Arriving::new(&sender, times, 8000.0, (9, 0));
        let mut gains = Gains::new(sender.channel, 9, 0);
        for n in 0..160_000_u32 {
            let z = arriving.next();
            if n >= 16 && n % 80 == 0 {
                let told = gains.of_tones(f64::from(n) / 8000.0, [-85.0, 85.0])[0];
                let tone = cis(-85.0 * f64::from(n) / 8000.0);
                assert!((z - told * tone).norm() < 1e-9, "at sample {n}");
            }
        }
    }
}
