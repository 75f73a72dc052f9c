//! Why a character is doubtful.

use std::fmt;
use std::str::FromStr;

/// Why a character is doubtful.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Doubt {
    /// One tone faded away.
    FadeOfOneTone,
    /// Both tones faded away, or the signal is weak throughout.
    Fade,
    /// A static crash covered part of the character.
    Crash,
    /// Another signal fell into the pair.
    Neighbour,
    /// The receiver's gain was pumped by something strong.
    Gain,
    /// The tones moved away from where they were followed.
    Drift,
    /// The elements do not fit their places in time.
    Timing,
    /// The shift character before it may be lost.
    ShiftLost,
}

impl Doubt {
    /// All causes and their words, in an order that is kept: new ones are added at the end.
    pub const ALL: [(Doubt, &str); 8] = [
        (Doubt::FadeOfOneTone, "fade-of-one-tone"),
        (Doubt::Fade, "fade"),
        (Doubt::Crash, "crash"),
        (Doubt::Neighbour, "neighbour"),
        (Doubt::Gain, "gain"),
        (Doubt::Drift, "drift"),
        (Doubt::Timing, "timing"),
        (Doubt::ShiftLost, "shift-lost"),
    ];

    /// Its word.
    pub fn word(self) -> &'static str {
        let found = Self::ALL.iter().find(|(doubt, _)| *doubt == self);
        found.map_or("", |(_, word)| word)
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Doubt {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let found = Self::ALL.iter().find(|(_, known)| *known == word);
        found
            .map(|(doubt, _)| *doubt)
            .ok_or_else(|| format!("cause of doubt \"{word}\", which this version does not know"))
    }
}
