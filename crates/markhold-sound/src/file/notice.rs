//! What is wrong with a recording but does not end its reading.

/// Something the person should know about a recording that was read nevertheless.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Notice {
    /// The file ends before the length its header states.
    EndsEarly {
        /// Length stated, s.
        stated_s: f64,
        /// Length found, s.
        found_s: f64,
    },
    /// A file (not a pipe) whose header states no length, as after a crash.
    LengthNotStated {
        /// Length found, s.
        found_s: f64,
    },
    /// Samples that were not numbers, or infinite, became silence.
    NotNumbers {
        /// How many samples.
        samples: u64,
    },
    /// Runs of samples stuck at full scale.
    Clipped {
        /// Share of all samples, 0 to 1.
        share: f64,
    },
    /// Damaged stretches became silence, so that the time of what follows is right.
    Gaps {
        /// How many stretches.
        count: u64,
        /// Their length together, s.
        length_s: f64,
    },
}

impl std::fmt::Display for Notice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Notice::EndsEarly { stated_s, found_s } => write!(
                f,
                "ends early: its header states {stated_s:.1} s, {found_s:.1} s are there"
            ),
            Notice::LengthNotStated { found_s } => write!(
                f,
                "its header states no length; read to the end, {found_s:.1} s"
            ),
            Notice::NotNumbers { samples } => write!(
                f,
                "{samples} samples were not numbers or infinite; they became silence"
            ),
            Notice::Clipped { share } => write!(
                f,
                "{:.2} % of the samples are clipped; record at a lower level next time",
                share * 100.0
            ),
            Notice::Gaps { count, length_s } => write!(
                f,
                "{count} damaged stretches, together {length_s:.2} s, became silence"
            ),
        }
    }
}
