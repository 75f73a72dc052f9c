//! Steady noise: white and Gaussian over the whole band up to half the sample rate.
//!
//! Signals in this crate are analytic, their real part is what is heard. Noise of one-sided
//! density N0 has the variance N0 fs/2 in its real part; its imaginary part is independent
//! noise of the same variance, so that the envelope has the right power too.

use crate::error::{SceneError, within};
use crate::random::{Random, complex_normal};
use num_complex::Complex64;

/// How strong the noise is, against a signal with the reference power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Noise {
    /// None at all.
    Silent,
    /// Energy of one element of the first sender over the one-sided noise density, dB.
    ///
    /// The energy is the reference power times the duration of one unit; with fading it is
    /// the mean.
    EsN0Db(f64),
    /// Reference power over the noise power in a bandwidth, dB; needs no sender.
    SnrDb {
        /// Signal to noise ratio, dB.
        snr_db: f64,
        /// The bandwidth it is stated for, Hz; 2500 or 3000 is usual (common practice).
        bandwidth_hz: f64,
    },
}

impl Noise {
    /// One-sided density, reference power per Hz.
    ///
    /// # Errors
    ///
    /// [`SceneError::NoElement`] if Es/N0 is given and `element_s` is not.
    pub(crate) fn density(self, element_s: Option<f64>) -> Result<f64, SceneError> {
        let db = (-100.0, 300.0);
        match self {
            Noise::Silent => Ok(0.0),
            Noise::EsN0Db(es_n0_db) => {
                within("Es/N0", es_n0_db, db, "dB")?;
                let element_s = element_s.ok_or(SceneError::NoElement)?;
                Ok(element_s / 10f64.powf(es_n0_db / 10.0))
            }
            Noise::SnrDb {
                snr_db,
                bandwidth_hz,
            } => {
                within("signal to noise ratio", snr_db, db, "dB")?;
                within("bandwidth of the noise", bandwidth_hz, (1.0, 1e6), "Hz")?;
                Ok(1.0 / 10f64.powf(snr_db / 10.0) / bandwidth_hz)
            }
        }
    }
}

/// A source of white Gaussian noise.
#[derive(Clone, Debug)]
pub(crate) struct White {
    // Derived.
    deviation: f64,
    // State.
    random: Random,
}

impl White {
    /// Noise of a one-sided density in power per Hz.
    pub(crate) fn new(density: f64, sample_rate: f64, random: Random) -> Self {
        Self {
            deviation: (density * sample_rate / 2.0).sqrt(),
            random,
        }
    }

    /// The next sample.
    pub(crate) fn next(&mut self) -> Complex64 {
        complex_normal(&mut self.random) * self.deviation
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::{Part, random};

    #[test]
    fn power_of_the_real_part_is_density_times_band() {
        let mut noise = White::new(0.01, 8000.0, random(1, Part::Noise, 0));
        let power = (0..400_000).map(|_| noise.next().re.powi(2)).sum::<f64>() / 400_000.0;
        // 0.01 per Hz over 4000 Hz; 3 sigma is 0.7 %.
        assert!((power / 40.0 - 1.0).abs() < 0.007, "{power}");
    }

    /// SNR in 3000 Hz is Es/N0 - 18.20 dB at 45.45 baud, in 2500 Hz Es/N0 - 16.99 at 50.
    #[test]
    fn es_n0_and_snr_agree() {
        for (baud, bandwidth_hz, difference) in
            [(1.0 / 0.022, 3000.0, -18.20), (50.0, 2500.0, -16.99)]
        {
            let a = Noise::EsN0Db(10.0).density(Some(1.0 / baud)).expect("fine");
            let b = Noise::SnrDb {
                snr_db: 10.0 + difference,
                bandwidth_hz,
            };
            let b = b.density(None).expect("fine");
            assert!((10.0 * (a / b).log10()).abs() < 0.006, "{baud} baud");
        }
        assert_eq!(
            Noise::EsN0Db(10.0).density(None),
            Err(SceneError::NoElement)
        );
        assert_eq!(Noise::Silent.density(None), Ok(0.0));
    }
}
