//! What keeps the shelf from working.

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
    /// A file with the archive's name that is none.
    #[error(
        "{} is damaged or no archive at all ({detail}); move it away and put a copy of the \
         archive in its place, the sound beside it is not touched", .file.display()
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
    #[error("{}: {}", .path.display(), .error)]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// The database refused.
    #[error("the archive cannot be used: {0}; if another program holds it, try again")]
    Database(#[from] rusqlite::Error),
    /// Sound could not be read or written.
    #[error(transparent)]
    Sound(#[from] SoundError),
    /// Forced settings that cannot work.
    #[error(transparent)]
    Settings(#[from] SettingsError),
}

impl ShelfError {
    /// Names the path in an error of the system; to be used with `map_err`.
    pub(super) fn at(path: &Path) -> impl FnOnce(io::Error) -> ShelfError {
        let path = path.to_path_buf();
        move |error| ShelfError::Io { path, error }
    }
}
