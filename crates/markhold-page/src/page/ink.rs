//! How dark a character is shown.

/// How dark a strike is shown: the less probable, the lighter. A few steps are enough for
/// the eye.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ink {
    /// Doubtful, less probable than one half.
    Faint,
    /// Doubtful, less probable than four fifths.
    Light,
    /// Doubtful, more probable than that.
    Grey,
    /// Not doubtful.
    #[default]
    Sure,
}

impl Ink {
    /// All steps, the darkest last.
    pub const ALL: [Ink; 4] = [Ink::Faint, Ink::Light, Ink::Grey, Ink::Sure];

    /// The ink of a character of this probability, 0 to 1.
    pub fn of(probability: f32, doubtful: bool) -> Ink {
        match probability {
            _ if !doubtful => Ink::Sure,
            p if p >= 0.8 => Ink::Grey,
            p if p >= 0.5 => Ink::Light,
            _ => Ink::Faint,
        }
    }

    /// How much of the paper it covers, percent: 0 = none, 100 = black.
    pub const fn percent(self) -> u8 {
        match self {
            Ink::Faint => 32,
            Ink::Light => 44,
            Ink::Grey => 58,
            Ink::Sure => 92,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_less_probable_the_lighter() {
        assert_eq!(Ink::of(0.1, false), Ink::Sure);
        assert_eq!(Ink::of(0.99, true), Ink::Grey);
        assert_eq!(Ink::of(0.6, true), Ink::Light);
        assert_eq!(Ink::of(f32::NAN, true), Ink::Faint);
        assert!(Ink::ALL.is_sorted_by_key(|ink| ink.percent()));
    }
}
