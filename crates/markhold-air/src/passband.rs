//! The receiver's audio passband: Butterworth high-pass and low-pass of fourth order.

use crate::error::{SceneError, within};
use crate::random::cis;
use num_complex::Complex64;
use std::f64::consts::PI;

/// The band that the receiver lets through; 3 dB down at its edges, 24 dB per octave
/// beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passband {
    /// Lower edge, Hz.
    pub low_hz: f64,
    /// Upper edge, Hz; at or above half the sample rate it does nothing.
    pub high_hz: f64,
}

impl Default for Passband {
    /// 300 to 2700 Hz, a usual voice filter (common practice).
    fn default() -> Self {
        Self {
            low_hz: 300.0,
            high_hz: 2700.0,
        }
    }
}

impl Passband {
    pub(crate) fn check(self) -> Result<(), SceneError> {
        within("lower edge of the passband", self.low_hz, (1.0, 1e5), "Hz")?;
        within(
            "upper edge of the passband",
            self.high_hz,
            (self.low_hz, 1e6),
            "Hz",
        )
    }

    /// Width, Hz, as far as the sample rate holds it; of a Butterworth filter of fourth
    /// order the noise bandwidth is 2.6 % more, which is left out.
    pub(crate) fn width_hz(self, sample_rate: f64) -> f64 {
        (self.high_hz.min(sample_rate / 2.0) - self.low_hz).max(0.0)
    }
}

/// Quality of the two sections of a Butterworth filter of fourth order:
/// 1 / (2 cos(pi/8)) and 1 / (2 cos(3 pi/8)).
const SECTION_Q: [f64; 2] = [0.541_196_100_146_197, 1.306_562_964_876_376_3];

/// One second-order section, transposed direct form II.
#[derive(Clone, Debug)]
struct Section {
    // Derived.
    b: [f64; 3],
    a: [f64; 2],
    // State.
    held: [Complex64; 2],
}

impl Section {
    /// The bilinear transform of 1/(s^2 + s/q + 1), or of s^2 over that for a high-pass,
    /// with the edge bent to its place.
    fn new(edge_hz: f64, q: f64, sample_rate: f64, high_pass: bool) -> Self {
        let k = (PI * edge_hz / sample_rate).tan();
        let norm = 1.0 / (1.0 + k / q + k * k);
        let b = if high_pass {
            [norm, -2.0 * norm, norm]
        } else {
            [1.0, 2.0, 1.0].map(|c| c * k * k * norm)
        };
        let a = [2.0 * (k * k - 1.0) * norm, (1.0 - k / q + k * k) * norm];
        Self {
            b,
            a,
            held: [Complex64::ZERO; 2],
        }
    }

    fn process(&mut self, x: Complex64) -> Complex64 {
        let y = x * self.b[0] + self.held[0];
        self.held[0] = x * self.b[1] - y * self.a[0] + self.held[1];
        self.held[1] = x * self.b[2] - y * self.a[1];
        y
    }
}

/// The filter on the analytic signal.
#[derive(Clone, Debug)]
pub(crate) struct PassbandFilter {
    sections: Vec<Section>,
}

impl PassbandFilter {
    pub(crate) fn new(passband: Passband, sample_rate: f64) -> Self {
        let high_pass = SECTION_Q.map(|q| Section::new(passband.low_hz, q, sample_rate, true));
        let low_pass = SECTION_Q.map(|q| Section::new(passband.high_hz, q, sample_rate, false));
        let mut sections = high_pass.to_vec();
        // Near half the sample rate the bent edge runs off to infinity.
        if passband.high_hz < 0.49 * sample_rate {
            sections.extend(low_pass);
        }
        Self { sections }
    }

    /// One sample through the filter.
    pub(crate) fn process(&mut self, x: Complex64) -> Complex64 {
        self.sections
            .iter_mut()
            .fold(x, |x, section| section.process(x))
    }
}

/// Sections of the sideband filter: twelfth order, 72 dB per octave, in place of the crystal
/// filter of a communications receiver.
const SIDEBAND_SECTIONS: usize = 6;

/// A filter that lets one side of zero frequency through and not the other: a Butterworth
/// low-pass around the middle of the band.
///
/// ```text
/// in -- down by the middle -- low-pass of half the width -- up by the middle -- out
/// ```
#[derive(Clone, Debug)]
pub(crate) struct SidebandFilter {
    // Derived.
    middle: f64,
    // State: the phase of the middle, cycles.
    sections: Vec<Section>,
    phase: f64,
}

impl SidebandFilter {
    /// Lets `low` to `high` through, Hz, 3 dB down there.
    pub(crate) fn new((low, high): (f64, f64), sample_rate: f64) -> Self {
        let edge_hz = (high - low) / 2.0;
        let order = 2.0 * SIDEBAND_SECTIONS as f64;
        // Quality of the sections of a Butterworth filter: 1 / (2 sin((2k + 1) pi / 2n)).
        let sections = (0..SIDEBAND_SECTIONS).map(|k| {
            let angle = (2 * k + 1) as f64 * PI / (2.0 * order);
            Section::new(edge_hz, 1.0 / (2.0 * angle.sin()), sample_rate, false)
        });
        Self {
            sections: sections.collect(),
            middle: (low + high) / 2.0 / sample_rate,
            phase: 0.0,
        }
    }

    /// One sample through the filter.
    pub(crate) fn process(&mut self, x: Complex64) -> Complex64 {
        let middle = cis(self.phase);
        self.phase = (self.phase + self.middle).fract();
        let down = x * middle.conj();
        let filtered = self.sections.iter_mut().fold(down, |x, s| s.process(x));
        filtered * middle
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain_db(hz: f64, sample_rate: f64) -> f64 {
        let mut filter = PassbandFilter::new(Passband::default(), sample_rate);
        let settle = (0.2 * sample_rate) as u32;
        let last = (0..settle)
            .map(|n| filter.process(cis(hz * f64::from(n) / sample_rate)))
            .fold(Complex64::ZERO, |_, y| y);
        20.0 * last.norm().log10()
    }

    /// A Butterworth filter of order n is 10 log10(1 + (f/fc)^(2n)) dB down (textbook).
    #[test]
    fn the_response_is_that_of_the_textbook() {
        for sample_rate in [8000.0, 48000.0, 192_000.0] {
            for hz in [100.0, 150.0, 300.0, 600.0, 1000.0, 1500.0, 2400.0, 2700.0] {
                let bent = |f: f64| (PI * f / sample_rate).tan();
                let high = 1.0 + (bent(300.0) / bent(hz)).powi(8);
                let low = 1.0 + (bent(hz) / bent(2700.0)).powi(8);
                let expected = -10.0 * (high * low).log10();
                let found = gain_db(hz, sample_rate);
                assert!(
                    (found - expected).abs() < 0.05,
                    "{hz} Hz at {sample_rate}: {found} dB"
                );
            }
        }
    }

    /// A Butterworth filter of order 12 around 1500 Hz, its edge at 1200 Hz (textbook).
    #[test]
    fn the_sideband_filter_has_one_side() {
        for sample_rate in [8000.0, 48000.0] {
            for hz in [-800.0, -300.0, 100.0, 300.0, 1000.0, 1500.0, 2700.0, 3100.0] {
                let mut filter = SidebandFilter::new((300.0, 2700.0), sample_rate);
                let settle = (0.2 * sample_rate) as u32;
                let last = (0..settle)
                    .map(|n| filter.process(cis(hz * f64::from(n) / sample_rate)))
                    .fold(Complex64::ZERO, |_, y| y);
                let bent = |f: f64| (PI * f / sample_rate).tan();
                let ratio = bent(hz - 1500.0) / bent(1200.0);
                let expected = -10.0 * (1.0 + ratio.abs().powi(24)).log10();
                let found = 20.0 * last.norm().log10();
                assert!(
                    (found - expected).abs() < 0.1,
                    "{hz} Hz at {sample_rate}: {found} dB, not {expected} dB"
                );
            }
        }
    }

    #[test]
    fn edges_beyond_the_band_leave_a_stable_filter() {
        let passband = Passband {
            low_hz: 300.0,
            high_hz: 5000.0,
        };
        let mut filter = PassbandFilter::new(passband, 8000.0);
        let last = (0..8000)
            .map(|n| filter.process(cis(0.3 * f64::from(n))))
            .last();
        assert!((last.expect("some").norm() - 1.0).abs() < 0.01);
    }
}
