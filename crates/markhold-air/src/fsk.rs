//! A keyed line as a complex signal of unit amplitude around zero frequency.
//!
//! Every sample is computed from the time of its element's edges, so edges may fall between
//! samples and no rounding accumulates, and a copy delayed by any time is exact.

use crate::keying::{Keying, Stretch, Tone};
use crate::random::{Part, Random, cis, random, uniform};
use crate::sender::{Sender, SenderModel};
use crate::times::Times;
use num_complex::Complex64;

/// The rotating phasor is set anew from its phase this often, so that its rounding errors
/// stay below 1e-12.
const RENEW_SAMPLES: u64 = 4096;

/// One sender's complex baseband, sample by sample.
#[derive(Clone, Debug)]
pub(crate) struct Fsk {
    // Configured.
    model: SenderModel,
    mark_hz: f64,
    space_hz: f64,
    sample_rate: f64,
    delay_s: f64,
    /// Phases of the two free oscillators, mark and space, cycles.
    free_phase: [f64; 2],
    // State.
    keying: Keying,
    random: Random,
    stretch: Stretch,
    start_s: f64,
    /// Phase at `start_s`, cycles.
    phase: f64,
    sample: u64,
    /// First sample that no longer belongs to the stretch.
    until: u64,
    /// First sample for which the phasor must be renewed.
    renew_at: u64,
    phasor: Complex64,
    step: Complex64,
}

impl Fsk {
    pub(crate) fn new(
        sender: &Sender,
        times: Times,
        sample_rate: f64,
        delay_s: f64,
        (seed, index): (u64, usize),
    ) -> Self {
        let mut random = random(seed, Part::Phase, index);
        let free_phase = [
            uniform(&mut random, 0.0, 1.0),
            uniform(&mut random, 0.0, 1.0),
        ];
        let mut fsk = Self {
            model: sender.model,
            mark_hz: sender.mark_hz() - sender.centre_hz,
            space_hz: sender.space_hz() - sender.centre_hz,
            sample_rate,
            delay_s,
            free_phase,
            keying: Keying::new(sender, times, seed, index),
            random,
            stretch: Stretch {
                tone: Tone::Off,
                end_s: 0.0,
            },
            start_s: 0.0,
            phase: 0.0,
            sample: 0,
            until: 0,
            renew_at: 0,
            phasor: Complex64::ZERO,
            step: Complex64::ONE,
        };
        fsk.until = fsk.first_sample_at(0.0);
        fsk
    }

    /// The next sample.
    pub(crate) fn next(&mut self) -> Complex64 {
        if self.sample >= self.renew_at {
            self.renew();
        }
        let value = self.phasor;
        self.phasor *= self.step;
        self.sample += 1;
        value
    }

    fn renew(&mut self) {
        while self.sample >= self.until {
            self.next_stretch();
        }
        self.renew_at = self
            .until
            .min(self.sample + RENEW_SAMPLES - self.sample % RENEW_SAMPLES);
        if self.stretch.tone == Tone::Off {
            self.phasor = Complex64::ZERO;
            return;
        }
        let time_s = self.sample as f64 / self.sample_rate - self.delay_s;
        self.phasor = cis(self.phase + self.tone_hz() * (time_s - self.start_s));
        self.step = cis(self.tone_hz() / self.sample_rate);
    }

    fn next_stretch(&mut self) {
        let end_s = self.stretch.end_s;
        self.phase = (self.phase + self.tone_hz() * (end_s - self.start_s)).fract();
        self.start_s = end_s;
        self.stretch = self.keying.next();
        self.until = self.first_sample_at(self.stretch.end_s);
        match (self.model, self.stretch.tone) {
            (SenderModel::PhaseContinuous, _) | (_, Tone::Off) => {}
            (SenderModel::TwoOscillators, Tone::Mark) => {
                self.phase = (self.free_phase[0] + self.mark_hz * end_s).fract();
            }
            (SenderModel::TwoOscillators, Tone::Space) => {
                self.phase = (self.free_phase[1] + self.space_hz * end_s).fract();
            }
            (SenderModel::RandomPhase, _) => self.phase = uniform(&mut self.random, 0.0, 1.0),
        }
    }

    fn tone_hz(&self) -> f64 {
        match self.stretch.tone {
            Tone::Off => 0.0,
            Tone::Mark => self.mark_hz,
            Tone::Space => self.space_hz,
        }
    }

    /// The first sample at or after a time of the sender, as heard over this path.
    fn first_sample_at(&self, time_s: f64) -> u64 {
        // An edge within a millionth of a sample is on it, or rounding would decide. The
        // cast saturates: the end of the last stretch is infinite.
        ((time_s + self.delay_s) * self.sample_rate - 1e-6).ceil() as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Code;

    const TIMES: Times = Times {
        text_until_s: 0.0,
        end_s: 4.0,
    };

    fn sender(model: SenderModel) -> Sender {
        let codes = [10, 21, 0, 31, 7]
            .iter()
            .filter_map(|&v| Code::new(v))
            .collect();
        Sender {
            codes,
            model,
            begin_s: 0.3,
            lead_in_s: 0.2,
            ..Sender::default()
        }
    }

    fn samples(sender: &Sender, rate: f64, delay_s: f64, count: usize) -> Vec<Complex64> {
        let mut fsk = Fsk::new(sender, TIMES, rate, delay_s, (1, 0));
        (0..count).map(|_| fsk.next()).collect()
    }

    /// The slow obvious version: the phase as the integral of the frequency in steps of one
    /// microsecond.
    #[test]
    fn phase_is_the_integral_of_frequency() {
        let sender = sender(SenderModel::PhaseContinuous);
        let fast = samples(&sender, 8000.0, 0.0, 12000);
        let mut keying = Keying::new(&sender, TIMES, 1, 0);
        let mut stretch = keying.next();
        let mut cycles = 0.0;
        for tick in 0..1_500_000_u32 {
            let time_s = f64::from(tick) * 1e-6;
            while time_s >= stretch.end_s {
                stretch = keying.next();
            }
            if tick % 125 == 0 {
                let expected = if stretch.tone == Tone::Off {
                    Complex64::ZERO
                } else {
                    cis(cycles)
                };
                let found = fast[tick as usize / 125];
                assert!(
                    (found - expected).norm() < 2e-3,
                    "at {time_s} s: {found}, {expected}"
                );
            }
            cycles += match stretch.tone {
                Tone::Off => 0.0,
                Tone::Mark => -85e-6,
                Tone::Space => 85e-6,
            };
        }
    }

    #[test]
    fn amplitude_is_one_while_on_for_every_model() {
        for model in SenderModel::ALL {
            for (n, z) in samples(&sender(model), 11025.0, 0.0, 40000)
                .iter()
                .enumerate()
            {
                let time_s = n as f64 / 11025.0;
                let expected = if (0.3..4.0).contains(&time_s) {
                    1.0
                } else {
                    0.0
                };
                assert!(
                    (z.norm() - expected).abs() < 1e-9,
                    "{model:?} at {time_s} s"
                );
            }
        }
    }

    #[test]
    fn a_delay_of_whole_samples_is_the_same_signal_later() {
        for model in SenderModel::ALL {
            let now = samples(&sender(model), 8000.0, 0.0, 9000);
            let late = samples(&sender(model), 8000.0, 0.002, 9000);
            for n in 16..9000 {
                assert!(
                    (late[n] - now[n - 16]).norm() < 1e-9,
                    "{model:?} at sample {n}"
                );
            }
        }
    }

    #[test]
    fn a_delay_between_samples_is_found_at_a_higher_rate() {
        let sender = sender(SenderModel::PhaseContinuous);
        let late = samples(&sender, 8000.0, 0.25 / 8000.0, 8000);
        let fine = samples(&sender, 32000.0, 0.0, 32000);
        for n in 1..8000 {
            assert!((late[n] - fine[4 * n - 1]).norm() < 1e-9, "at sample {n}");
        }
    }

    #[test]
    fn free_oscillators_come_back_in_phase() {
        let sender = sender(SenderModel::TwoOscillators);
        let all = samples(&sender, 8000.0, 0.0, 30000);
        let lead_in = all[3000] * cis(85.0 * 3000.0 / 8000.0);
        let tail = all[25000] * cis(85.0 * 25000.0 / 8000.0);
        assert!((lead_in - tail).norm() < 1e-9);
    }
}
