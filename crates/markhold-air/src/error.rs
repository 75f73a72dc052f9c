//! What can be wrong with a scene, with the numbers in it.

/// A scene that cannot be rendered.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SceneError {
    /// A setting lies outside what makes sense.
    #[error("{what} is {found}; give {low} to {high} {unit}")]
    OutOfRange {
        /// The setting, in words.
        what: String,
        /// Its value.
        found: f64,
        /// The least that is taken.
        low: f64,
        /// The most that is taken.
        high: f64,
        /// The unit of the numbers.
        unit: &'static str,
    },
    /// A tone leaves the band that the sample rate can hold.
    #[error(
        "{what} reaches {found:.1} Hz, but {sample_rate} samples per second hold {low:.0} to \
         {high:.0} Hz; move it, let it drift less, or raise the sample rate"
    )]
    OutOfBand {
        /// Whose tone it is.
        what: String,
        /// The frequency it reaches, Hz.
        found: f64,
        /// The lowest frequency that can be heard, Hz.
        low: f64,
        /// The highest frequency that can be heard, Hz.
        high: f64,
        /// The sample rate asked for, Hz.
        sample_rate: u32,
    },
    /// Nothing says when the scene is over.
    #[error("the scene has no end; set its duration, or add a sender that does not repeat")]
    Endless,
    /// Es/N0 was given without a sender whose elements it could refer to.
    #[error(
        "noise is given as Es/N0 but the scene has no sender; add one, or give the noise as a \
         signal to noise ratio in a bandwidth"
    )]
    NoElement,
    /// A carrier was placed beside the first sender and there is none.
    #[error("{what} is placed beside the first sender but the scene has none; give its frequency")]
    NoSender {
        /// The carrier, in words.
        what: String,
    },
}

/// Accepts `found` if it lies in `low..=high`.
pub(crate) fn within(
    what: impl Into<String>,
    found: f64,
    (low, high): (f64, f64),
    unit: &'static str,
) -> Result<(), SceneError> {
    if (low..=high).contains(&found) {
        return Ok(());
    }
    Err(SceneError::OutOfRange {
        what: what.into(),
        found,
        low,
        high,
        unit,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn within_says_what_was_found_and_what_to_give() {
        let error = within("shift of sender 1", 3.0, (10.0, 2000.0), "Hz").expect_err("too small");
        assert_eq!(
            error.to_string(),
            "shift of sender 1 is 3; give 10 to 2000 Hz"
        );
        assert!(within("x", f64::NAN, (0.0, 1.0), "Hz").is_err());
        assert!(within("x", 1.0, (0.0, 1.0), "Hz").is_ok());
    }
}
