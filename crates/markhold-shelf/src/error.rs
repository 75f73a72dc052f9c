//! What keeps the shelf from working.

use super::words::{database_words, io_words};
use markhold_receive::SettingsError;
use markhold_sound::SoundError;
use std::io;
use std::path::{Path, PathBuf};

/// Why something could not be kept or found. Each message says what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ShelfError {
    /// The folder holds no archive.
    #[error("nothing has been kept in {} yet; check the folder", .place.display())]
    Nothing {
        /// The folder looked in.
        place: PathBuf,
    },
    /// The archive was laid out by a later version of this program.
    #[error(
        "the archive has layout {found}, this program knows layouts up to {known}: a newer \
         markhold wrote it; update markhold or name another folder"
    )]
    Newer {
        /// The layout found.
        found: i64,
        /// The latest layout known here.
        known: i64,
    },
    /// An archive of an earlier layout, where nothing may be written.
    #[error(
        "the archive was written by an earlier markhold and may only be read here, so it cannot be \
         brought up to date; copy the shelf to a folder that may be written"
    )]
    Older,
    /// Another program is opening the archive.
    #[error("the archive is locked by another program; try again")]
    Held,
    /// The evening ended before all of its copy was in the archive.
    #[error("{why}; the copy that is missing is copied again from the sound at the next start")]
    LeftOver {
        /// Why, in words.
        why: String,
    },
    /// A file with the archive's name that is none.
    #[error(
        "{} is damaged or no archive at all ({detail}); the desk sets it aside when it starts and \
         makes the archive again from the copies and the sound beside it, which are not touched",
        .file.display()
    )]
    NotAnArchive {
        /// The file.
        file: PathBuf,
        /// What was found.
        detail: String,
    },
    /// Nothing was kept under this name.
    #[error("no evening {asked} on the shelf; `markhold shelf list --all` shows all")]
    NoEvening {
        /// What was asked for.
        asked: String,
    },
    /// The reading has no such line.
    #[error("no line begins at {at_s:.1} s of this reading; open the evening again")]
    NoLine {
        /// Where it was looked for, s from the first sample of the evening.
        at_s: f64,
    },
    /// A character that no five-unit machine prints.
    #[error("{found:?} is on no five-unit machine; letters, figures and their signs are")]
    NotPrinted {
        /// What was found.
        found: char,
    },
    /// No sked has this number.
    #[error("no sked {id}; `markhold skeds list` shows all with their numbers")]
    NoSked {
        /// The number asked for.
        id: i64,
    },
    /// A sked that cannot be read.
    #[error("sked {id} cannot be read: {why}; it is left as it is")]
    Sked {
        /// Its number.
        id: i64,
        /// Why.
        why: String,
    },
    /// An evening that is not over.
    #[error("evening {evening} is being kept; end it first, or choose another input")]
    BeingKept {
        /// The evening.
        evening: i64,
    },
    /// Too much was said of an evening.
    #[error("the {what} has {length} bytes; at most {most} are kept")]
    TooLong {
        /// Which part of it.
        what: &'static str,
        /// Its bytes.
        length: usize,
        /// Most that are kept.
        most: usize,
    },
    /// A reading that is not there.
    #[error("evening {evening} has no reading {asked}; it has {count}, counted from 1")]
    NoReading {
        /// The evening.
        evening: i64,
        /// The reading asked for, counted from 1.
        asked: usize,
        /// How many there are.
        count: usize,
    },
    /// A signal that is not there.
    #[error("evening {evening} has no signal {signal} with copy")]
    NoSignal {
        /// The evening.
        evening: i64,
        /// The signal asked for.
        signal: u32,
    },
    /// The sound of an evening is gone.
    #[error(
        "no sound of evening {evening} is left, so it cannot be copied again; its copy is still there"
    )]
    NoSound {
        /// The evening.
        evening: i64,
    },
    /// A search without a letter or digit.
    #[error("nothing to search for in \"{asked}\": give a word with letters or digits")]
    NothingToSearch {
        /// What was asked for.
        asked: String,
    },
    /// The details of a line cannot be read.
    #[error("the details of a line are damaged at byte {at} of {length}; its text is whole")]
    Details {
        /// Where, from 0.
        at: usize,
        /// Bytes there are.
        length: usize,
    },
    /// What was learned cannot be read.
    #[error("what this shelf learned cannot be read: {0}; `markhold shelf learn` does so")]
    Learned(String),
    /// The system refused to read or write.
    #[error("{}: {}", .path.display(), io_words(.error))]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The database refused.
    #[error("{}", database_words(.0))]
    Database(#[from] rusqlite::Error),
    /// Sound could not be read or written.
    #[error(transparent)]
    Sound(#[from] SoundError),
    /// Forced settings that cannot work.
    #[error(transparent)]
    Settings(#[from] SettingsError),
}

impl ShelfError {
    /// Why the copy is not kept, in words for the person's eye while it is tried again.
    pub(super) fn refusal(&self) -> String {
        match self {
            ShelfError::Held => "the archive is locked by another program".to_string(),
            ShelfError::NotAnArchive { .. } => "the archive is damaged".to_string(),
            other => other.to_string(),
        }
    }

    /// Whether the archive's file is damaged, as opposed to out of reach for now.
    pub(super) fn is_damage(&self) -> bool {
        match self {
            ShelfError::NotAnArchive { .. } => true,
            ShelfError::Database(error) => super::words::is_damage(error),
            _ => false,
        }
    }

    /// Names the path in an error of the system; to be used with `map_err`.
    pub(super) fn at(path: &Path) -> impl FnOnce(io::Error) -> ShelfError {
        let path = path.to_path_buf();
        move |error| ShelfError::Io { path, error }
    }
}
