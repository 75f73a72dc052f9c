//! What happened to an evening while it was kept, told once. How it is kept now is
//! [`super::KeepState`].

use super::GapCause;
use std::path::PathBuf;

/// Something the person should know. Copying goes on in every case.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum KeepNotice {
    /// A stretch of sound is not on the shelf; the state says no more of it.
    SoundMissing {
        /// Its length, s.
        missing_s: f64,
        /// Why.
        cause: GapCause,
    },
    /// Copy waited too long and is out of memory.
    CopyLost {
        /// Lines; events where they did not become lines.
        lines: u64,
    },
    /// The oldest sound made room.
    SoundRemoved {
        /// Files removed.
        files: u64,
        /// Their bytes together.
        bytes: u64,
    },
    /// The evening takes more than the room for sound; none of it is removed.
    MoreThanItsRoom {
        /// The limit, bytes.
        limit: u64,
    },
    /// A damaged archive was set aside.
    SetAside {
        /// Where it is now; `None` for one without a byte.
        file: Option<PathBuf>,
    },
    /// Evenings were entered again from their sound.
    Adopted {
        /// How many.
        evenings: usize,
    },
    /// The archive's file was taken away, and another was made.
    ArchiveGone,
    /// Copy that was missing was made again from the sound.
    CopiedAgain {
        /// The evening.
        evening: i64,
        /// Length of the sound that was copied again, s.
        length_s: f64,
    },
}

impl std::fmt::Display for KeepNotice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            KeepNotice::SoundMissing { missing_s, cause } => {
                let why = match cause {
                    GapCause::SlowDisk => "the disk was too slow",
                    GapCause::FullDisk => "the disk was full",
                    GapCause::Deleted => "its file was deleted or moved away",
                    _ => "the disk failed",
                };
                write!(
                    f,
                    "{missing_s:.1} s of sound are missing: {why}. Sound is kept again."
                )
            }
            KeepNotice::CopyLost { lines } => write!(
                f,
                "{lines} lines of copy waited too long for the archive; they are copied again \
                 from the sound at the next start."
            ),
            KeepNotice::SoundRemoved { files, bytes } => write!(
                f,
                "{files} of the oldest sound files ({:.0} MB) made room; their copy stays.",
                *bytes as f64 / 1e6
            ),
            KeepNotice::MoreThanItsRoom { limit } => write!(
                f,
                "This evening alone takes more than its room of {:.1} GB. None of it is removed; \
                 make the limit larger or begin a new evening.",
                *limit as f64 / 1e9
            ),
            KeepNotice::SetAside { file: Some(file) } => write!(
                f,
                "The archive was damaged; it is now {}. A new one was begun.",
                file.display()
            ),
            KeepNotice::SetAside { file: None } => {
                write!(
                    f,
                    "The archive was empty, not one byte. A new one was begun."
                )
            }
            KeepNotice::Adopted { evenings: 1 } => {
                write!(f, "An evening was entered again from its sound.")
            }
            KeepNotice::Adopted { evenings } => {
                write!(
                    f,
                    "{evenings} evenings were entered again from their sound."
                )
            }
            KeepNotice::ArchiveGone => {
                write!(
                    f,
                    "The archive was deleted or moved away; another was begun."
                )
            }
            KeepNotice::CopiedAgain { evening, length_s } => write!(
                f,
                "{length_s:.0} s of evening {evening} that a crash or a quick end had cost were \
                 copied again from the sound."
            ),
        }
    }
}
