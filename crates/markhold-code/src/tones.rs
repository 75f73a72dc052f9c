//! The two tones of a keyed signal, and which of them is mark.

use std::fmt;
use std::str::FromStr;

/// Which of the two tones is mark.
///
/// Mark is customarily the higher radio frequency (common practice), so on the lower
/// sideband it is heard as the lower tone. `HigherTone` therefore usually means that
/// the receiver is set to the other sideband.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sense {
    /// The lower tone is mark.
    LowerTone,
    /// The higher tone is mark.
    HigherTone,
}

impl Sense {
    /// The other one.
    pub const fn other(self) -> Self {
        match self {
            Sense::LowerTone => Sense::HigherTone,
            Sense::HigherTone => Sense::LowerTone,
        }
    }
}

impl fmt::Display for Sense {
    /// "lower" or "higher".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sense::LowerTone => "lower",
            Sense::HigherTone => "higher",
        })
    }
}

impl FromStr for Sense {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        match word {
            "lower" => Ok(Sense::LowerTone),
            "higher" => Ok(Sense::HigherTone),
            other => Err(format!(
                "which tone is mark is given as \"{other}\"; give \"lower\" or \"higher\""
            )),
        }
    }
}

/// The tones of one signal, Hz of audio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tones {
    /// The tone of mark, Hz.
    pub mark_hz: f64,
    /// The tone of space, Hz.
    pub space_hz: f64,
}

impl Tones {
    /// A pair from its tones in order of frequency, Hz, and which of them is mark.
    pub const fn of_pair(lower_hz: f64, higher_hz: f64, sense: Sense) -> Self {
        let (mark_hz, space_hz) = match sense {
            Sense::LowerTone => (lower_hz, higher_hz),
            Sense::HigherTone => (higher_hz, lower_hz),
        };
        Self { mark_hz, space_hz }
    }

    /// Which tone is mark.
    pub const fn sense(self) -> Sense {
        match self.mark_hz > self.space_hz {
            true => Sense::HigherTone,
            false => Sense::LowerTone,
        }
    }

    /// The lower tone, Hz.
    pub const fn lower_hz(self) -> f64 {
        self.mark_hz.min(self.space_hz)
    }

    /// The higher tone, Hz.
    pub const fn higher_hz(self) -> f64 {
        self.mark_hz.max(self.space_hz)
    }

    /// Half way between them, Hz.
    pub const fn middle_hz(self) -> f64 {
        (self.mark_hz + self.space_hz) / 2.0
    }

    /// Their distance, Hz.
    pub const fn shift_hz(self) -> f64 {
        (self.mark_hz - self.space_hz).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_and_its_sense_give_mark_and_space() {
        for (sense, mark_hz) in [(Sense::LowerTone, 2125.0), (Sense::HigherTone, 2295.0)] {
            let tones = Tones::of_pair(2125.0, 2295.0, sense);
            assert_eq!((tones.mark_hz, tones.sense()), (mark_hz, sense));
            assert_eq!((tones.lower_hz(), tones.higher_hz()), (2125.0, 2295.0));
            assert_eq!((tones.middle_hz(), tones.shift_hz()), (2210.0, 170.0));
            assert_ne!(sense.other(), sense);
        }
    }

    #[test]
    fn words_name_the_sense_both_ways() {
        for sense in [Sense::LowerTone, Sense::HigherTone] {
            assert_eq!(sense.to_string().parse(), Ok(sense));
        }
        let error = "upper".parse::<Sense>().expect_err("no such word");
        assert!(error.contains("\"upper\"") && error.contains("\"lower\""));
    }
}
