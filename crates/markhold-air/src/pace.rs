//! How characters follow each other.

/// How characters follow each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// Without a gap, as from a tape.
    Continuous,
    /// From a keyboard: idle mark of random length after each stop element.
    Keyboard {
        /// Mean number of characters in one second; must be less than the line carries.
        characters_per_second: f64,
        /// How the gaps scatter around their mean.
        gaps: Gaps,
    },
}

/// How the gaps between typed characters scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Gaps {
    /// Exponentially: many short ones, few long ones.
    Exponential,
    /// Log-normally; `sigma` is the standard deviation of the natural logarithm, about 0.5
    /// for a steady typist and 1 for a halting one (plain sense).
    LogNormal {
        /// Standard deviation of the natural logarithm of the gap.
        sigma: f64,
    },
}
