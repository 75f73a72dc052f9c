//! The two tones of a keyed signal.

use super::HearError;

/// Two tones, Hz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// The lower tone.
    pub low_hz: f64,
    /// The higher tone.
    pub high_hz: f64,
}

impl Pair {
    /// Half-way between the two.
    pub fn middle_hz(&self) -> f64 {
        (self.low_hz + self.high_hz) / 2.0
    }

    /// Distance of the two.
    pub fn shift_hz(&self) -> f64 {
        self.high_hz - self.low_hz
    }

    pub(super) fn check(&self, rate_hz: f64, two: bool) -> Result<(), HearError> {
        let most_hz = 0.45 * rate_hz;
        let least = if two { 1.0 } else { 0.0 };
        let apart = self.shift_hz() >= least;
        // Written so that NaN is refused.
        if apart && self.low_hz >= 50.0 && self.high_hz <= most_hz {
            return Ok(());
        }
        Err(HearError::Pair {
            low_hz: self.low_hz,
            high_hz: self.high_hz,
            most_hz,
        })
    }
}
