//! The way through the ionosphere: one or two fading paths (Watterson model).

use crate::error::{SceneError, within};
use crate::fading::Fading;
use crate::random::{Part, cis, random};
use num_complex::Complex64;
use std::f64::consts::FRAC_1_SQRT_2;

/// What the ionosphere does to a sender. Mean power is 1 in each case.
///
/// The named conditions are those of ITU-R F.1487 Annex 3: two paths of equal mean power
/// with independent Rayleigh fading; the frequency spread is twice the standard deviation
/// of a Gaussian Doppler spectrum. F.1487 recommends them provisionally.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub enum Channel {
    /// Nothing: a steady signal.
    #[default]
    Steady,
    /// One fading path: both tones fade together.
    Flat {
        /// Frequency spread, 2 sigma, Hz; 0 leaves a random phase only.
        spread_hz: f64,
    },
    /// Two fading paths: the tones fade apart.
    TwoPath {
        /// How much later the second path arrives, ms.
        delay_ms: f64,
        /// Frequency spread of each path, 2 sigma, Hz; 0 leaves two fixed paths of equal
        /// power with random phases.
        spread_hz: f64,
    },
}

const fn two_path(delay_ms: f64, spread_hz: f64) -> Channel {
    Channel::TwoPath {
        delay_ms,
        spread_hz,
    }
}

impl Channel {
    /// Low latitude, quiet: 0.5 ms, 0.5 Hz.
    pub const LOW_LATITUDE_QUIET: Channel = two_path(0.5, 0.5);
    /// Low latitude, moderate: 2 ms, 1.5 Hz.
    pub const LOW_LATITUDE_MODERATE: Channel = two_path(2.0, 1.5);
    /// Low latitude, disturbed: 6 ms, 10 Hz.
    pub const LOW_LATITUDE_DISTURBED: Channel = two_path(6.0, 10.0);
    /// Mid-latitude, quiet: 0.5 ms, 0.1 Hz.
    pub const MID_LATITUDE_QUIET: Channel = two_path(0.5, 0.1);
    /// Mid-latitude, moderate: 1 ms, 0.5 Hz.
    pub const MID_LATITUDE_MODERATE: Channel = two_path(1.0, 0.5);
    /// Mid-latitude, disturbed: 2 ms, 1 Hz.
    pub const MID_LATITUDE_DISTURBED: Channel = two_path(2.0, 1.0);
    /// Mid-latitude, disturbed, near-vertical incidence: 7 ms, 1 Hz.
    pub const MID_LATITUDE_NEAR_VERTICAL: Channel = two_path(7.0, 1.0);
    /// High latitude, quiet: 1 ms, 0.5 Hz.
    pub const HIGH_LATITUDE_QUIET: Channel = two_path(1.0, 0.5);
    /// High latitude, moderate: 3 ms, 10 Hz.
    pub const HIGH_LATITUDE_MODERATE: Channel = two_path(3.0, 10.0);
    /// High latitude, disturbed: 7 ms, 30 Hz.
    pub const HIGH_LATITUDE_DISTURBED: Channel = two_path(7.0, 30.0);

    pub(crate) fn check(self, whose: &str) -> Result<(), SceneError> {
        let spread = |hz| {
            // Below the least spread a fade lasts for hours; above the most the model does
            // not hold. Zero is the case without fading.
            let least = if hz == 0.0 { 0.0 } else { 1e-4 };
            within(
                format!("frequency spread of {whose}"),
                hz,
                (least, 100.0),
                "Hz",
            )
        };
        match self {
            Channel::Steady => Ok(()),
            Channel::Flat { spread_hz } => spread(spread_hz),
            Channel::TwoPath {
                delay_ms,
                spread_hz,
            } => {
                within(
                    format!("path delay of {whose}"),
                    delay_ms,
                    (0.0, 50.0),
                    "ms",
                )?;
                spread(spread_hz)
            }
        }
    }
}

/// Gain of the two tones at one time: amplitude over that of the steady channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToneGains {
    /// The time, s from the first sample.
    pub at_s: f64,
    /// Amplitude gain of mark; its mean square over time is 1.
    pub mark: f64,
    /// Amplitude gain of space; its mean square over time is 1.
    pub space: f64,
}

/// The fading gains of a channel, without the signal.
#[derive(Clone, Debug)]
pub(crate) struct Gains {
    // Configured.
    pub(crate) delay_s: f64,
    pub(crate) amplitude: f64,
    // State.
    pub(crate) paths: Vec<Fading>,
}

impl Gains {
    pub(crate) fn new(channel: Channel, seed: u64, index: usize) -> Self {
        let first = |spread_hz| Fading::new(spread_hz, random(seed, Part::FirstPath, index));
        let second = |spread_hz| Fading::new(spread_hz, random(seed, Part::SecondPath, index));
        match channel {
            Channel::Steady => Self {
                delay_s: 0.0,
                amplitude: 1.0,
                paths: vec![],
            },
            Channel::Flat { spread_hz } => Self {
                delay_s: 0.0,
                amplitude: 1.0,
                paths: vec![first(spread_hz)],
            },
            Channel::TwoPath {
                delay_ms,
                spread_hz,
            } => Self {
                delay_s: delay_ms / 1e3,
                amplitude: FRAC_1_SQRT_2,
                paths: vec![first(spread_hz), second(spread_hz)],
            },
        }
    }

    /// Complex gain of a steady tone `hz` from the centre, at a time that must not go back.
    pub(crate) fn of_tones(&mut self, time_s: f64, tones_hz: [f64; 2]) -> [Complex64; 2] {
        match self.paths.as_mut_slice() {
            [first, second] => {
                let (a, b) = (first.at(time_s), second.at(time_s));
                tones_hz.map(|hz| (a + b * cis(-hz * self.delay_s)) * self.amplitude)
            }
            [only] => [only.at(time_s) * self.amplitude; 2],
            _ => [Complex64::ONE; 2],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Correlation of the two tones' fading, two equal paths: |cos(pi shift delay)|.
    #[test]
    fn tones_fade_together_as_far_as_shift_and_delay_let_them() {
        for (shift_hz, delay_ms, expected) in [
            (170.0, 1.0, 0.861),
            (170.0, 2.0, 0.482),
            (170.0, 3.0, 0.031),
            (425.0, 1.0, 0.233),
            (850.0, 0.5, 0.233),
            (85.0, 7.0, 0.294),
        ] {
            let channel = Channel::TwoPath {
                delay_ms,
                spread_hz: 10.0,
            };
            let mut gains = Gains::new(channel, 3, 0);
            let mut sum = Complex64::ZERO;
            let mut power = [0.0; 2];
            for n in 0..200_000 {
                let tones = [-shift_hz / 2.0, shift_hz / 2.0];
                let [mark, space] = gains.of_tones(f64::from(n) * 0.02, tones);
                sum += mark * space.conj();
                power[0] += mark.norm_sqr();
                power[1] += space.norm_sqr();
            }
            for p in power {
                assert!(
                    (p / 200_000.0 - 1.0).abs() < 0.02,
                    "mean power {}",
                    p / 200_000.0
                );
            }
            let found = sum.norm() / (power[0] * power[1]).sqrt();
            assert!(
                (found - expected).abs() < 0.02,
                "{shift_hz} Hz {delay_ms} ms: {found}"
            );
        }
    }

    #[test]
    fn senders_fade_independently() {
        let at =
            |index| Gains::new(Channel::MID_LATITUDE_QUIET, 1, index).of_tones(0.0, [0.0; 2])[0];
        assert_ne!(at(0), at(1));
    }
}
