//! What must be seen to before the dial: without sound nothing that is said of tones is true.

use crate::instruments::LevelState;
use serde::Serialize;

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// No sound input has been open yet.
    NoInput,
    /// The sound input is gone.
    Gone,
    /// The sound input is there and gives nothing.
    Still,
    /// Nothing but zeros comes.
    Silence,
    /// Hardly anything comes.
    TooQuiet,
    /// Samples stand at full scale.
    TooLoud,
    /// The copying cannot keep up with the sound.
    Behind,
    /// The source has ended.
    Ended,
}

impl Fault {
    /// What the level says is wrong, if anything.
    pub fn of(level: LevelState) -> Option<Self> {
        match level {
            LevelState::Good => None,
            LevelState::Clipping => Some(Fault::TooLoud),
            LevelState::TooLittle => Some(Fault::TooQuiet),
            LevelState::Silent => Some(Fault::Silence),
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Fault::NoInput => "no sound input: choose one, or plug it in",
            Fault::Gone => "the sound input is gone: plug it in again",
            Fault::Still => "the sound input gives nothing: plug it in again, or choose another",
            Fault::Silence => "no sound: is the cable in, and the right input chosen?",
            Fault::TooQuiet => "too quiet: turn the level up",
            Fault::TooLoud => "too loud: turn the level down",
            Fault::Behind => "this computer is too slow for the copy; the sound is kept",
            Fault::Ended => "the sound has ended",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_good_level_is_no_fault() {
        let all = [
            LevelState::Clipping,
            LevelState::TooLittle,
            LevelState::Silent,
        ];
        let mut words: Vec<&str> = all
            .map(|level| Fault::of(level).expect("a fault").words())
            .to_vec();
        words.dedup();
        assert_eq!(words.len(), all.len(), "each has words of its own");
        assert_eq!(Fault::of(LevelState::Good), None);
    }
}
