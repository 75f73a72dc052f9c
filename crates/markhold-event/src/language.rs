//! What language may do to the copy.

use std::fmt;
use std::str::FromStr;

/// What language may do to the copy. It is asked about decided characters only: early
/// readings cannot wait for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum LanguageUse {
    /// It is not asked.
    Off,
    /// It says what it thinks, and changes nothing.
    Mark,
    /// It joins the reading; what it changed says so.
    #[default]
    On,
}

const WORDS: [(LanguageUse, &str); 3] = [
    (LanguageUse::Off, "off"),
    (LanguageUse::Mark, "mark"),
    (LanguageUse::On, "on"),
];

impl fmt::Display for LanguageUse {
    /// "off", "mark" or "on".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let found = WORDS.iter().find(|(known, _)| known == self);
        f.write_str(found.map_or("on", |(_, word)| word))
    }
}

impl FromStr for LanguageUse {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let found = WORDS.iter().find(|(_, known)| *known == word);
        found
            .map(|(language, _)| *language)
            .ok_or_else(|| format!("language \"{word}\"; give \"off\", \"mark\" or \"on\""))
    }
}
