//! What is wanted of the shelf: the settings file says it once, the command line this time.

use crate::choices::Language;
use crate::machine::Outfit;
use crate::outcome::say;
use clap::Args;
use markhold_event::LanguageUse;
use markhold_shelf::{KeepSettings, Learned, Preferences, Shelf, bytes};
use std::path::PathBuf;
use std::sync::Arc;

/// What language may do to the copy that is kept.
#[derive(Args, Clone, Debug, Default)]
pub struct LanguageArgs {
    /// Let English join the reading that is kept: off, only mark what it would change, or on;
    /// it has no say in figures, calls and code groups [default: the settings file's, else on]
    #[arg(long, value_enum, value_name = "USE", help_heading = "Language")]
    pub language: Option<Language>,

    /// Take along what the sure copy on this shelf taught, as learn = true in the settings
    /// file; words of letters only
    #[arg(long, help_heading = "Language", conflicts_with = "no_learn")]
    pub learn: bool,

    /// Learn nothing this time, and use nothing that was learned
    #[arg(long, help_heading = "Language")]
    pub no_learn: bool,
}

/// RoomArgs on the disk.
#[derive(Args, Clone, Debug, Default)]
pub struct RoomArgs {
    /// Most room for sound on the shelf, as in 40GB; the oldest goes first, copy stays
    /// [default: the settings file's, else 20 GiB]
    #[arg(long, value_name = "SIZE", value_parser = bytes)]
    pub sound_limit: Option<u64>,
}

/// What holds after both were heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// What language may do.
    pub language: LanguageUse,
    /// Whether the shelf teaches.
    pub learn: bool,
    /// How an evening is kept.
    pub keep: KeepSettings,
}

impl Wanted {
    /// From the settings file, the usual one unless another is named, and the command line.
    pub fn of(
        settings: Option<&PathBuf>,
        reading: &LanguageArgs,
        room: &RoomArgs,
    ) -> anyhow::Result<Self> {
        let file = Outfit {
            settings: settings.cloned(),
            ..Outfit::default()
        };
        let wanted = Preferences::of_settings(&file.read_settings()?)
            .map_err(|error| anyhow::anyhow!("{}: {error}", file.place()))?;
        Ok(Self::with(&wanted, reading, room))
    }

    fn with(file: &Preferences, reading: &LanguageArgs, room: &RoomArgs) -> Self {
        let usual = KeepSettings::default();
        let language = reading.language.map(Into::into).or(file.language);
        let learn = !reading.no_learn && (reading.learn || file.learn.unwrap_or(false));
        let sound_bytes = room.sound_limit.or(file.sound_bytes);
        Wanted {
            language: language.unwrap_or_default(),
            learn,
            keep: KeepSettings {
                sound_bytes: sound_bytes.unwrap_or(usual.sound_bytes),
                ..usual
            },
        }
    }

    /// Whether something is learned and used.
    pub fn learns(&self) -> bool {
        self.learn && self.language != LanguageUse::Off
    }

    /// What the shelf teaches, where that is wanted. That it cannot is no reason not to copy.
    pub fn learned(&self, shelf: &mut Shelf) -> Option<Arc<Learned>> {
        if !self.learns() {
            return None;
        }
        match shelf.learn() {
            Ok(lesson) => Some(Arc::new(lesson.learned)),
            Err(error) => {
                say(&format!("markhold: nothing could be learned: {error}"));
                None
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_goes_before_the_settings_file() {
        let file = Preferences {
            sound_bytes: Some(7),
            language: Some(LanguageUse::Mark),
            learn: Some(true),
        };
        let said = |language, learn, no_learn| LanguageArgs {
            language,
            learn,
            no_learn,
        };
        let nothing = said(None, false, false);
        let wanted = |file: &Preferences, reading: &LanguageArgs, sound_limit| {
            let wanted = Wanted::with(file, reading, &RoomArgs { sound_limit });
            (wanted.language, wanted.learns(), wanted.keep.sound_bytes)
        };
        let none = Preferences::default();
        assert_eq!(
            wanted(&none, &nothing, None),
            (LanguageUse::On, false, 20 << 30)
        );
        assert_eq!(wanted(&file, &nothing, None), (LanguageUse::Mark, true, 7));
        let off = said(Some(Language::Off), false, false);
        assert_eq!(wanted(&file, &off, Some(9)), (LanguageUse::Off, false, 9));
        let not = said(None, false, true);
        assert_eq!(wanted(&file, &not, None), (LanguageUse::Mark, false, 7));
        let learn = said(None, true, false);
        assert_eq!(
            wanted(&none, &learn, None),
            (LanguageUse::On, true, 20 << 30)
        );
    }
}
