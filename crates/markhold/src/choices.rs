//! Choices that several commands share.

use clap::ValueEnum;
use markhold_code::FiguresRow;
use markhold_event::LanguageUse;

/// Which tone is mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Mark {
    /// The lower tone (usual on the lower sideband).
    Lower,
    /// The higher tone.
    Higher,
}

/// Which signs stand in the figures row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Figures {
    /// International Telegraph Alphabet No. 2.
    Ita2,
    /// The row common in the United States trade.
    Us,
}

/// What language may do to the copy.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Language {
    /// The signal alone decides.
    Off,
    /// The signal alone decides; what language would change is marked.
    Mark,
    /// Signal and language decide together; what language changed is marked.
    On,
}

impl From<Language> for LanguageUse {
    fn from(language: Language) -> Self {
        match language {
            Language::Off => LanguageUse::Off,
            Language::Mark => LanguageUse::Mark,
            Language::On => LanguageUse::On,
        }
    }
}

impl From<Figures> for FiguresRow {
    fn from(figures: Figures) -> Self {
        match figures {
            Figures::Ita2 => FiguresRow::Ita2,
            Figures::Us => FiguresRow::Us,
        }
    }
}
