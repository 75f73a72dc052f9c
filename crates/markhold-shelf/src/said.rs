//! What a person said of an evening: a note, and whom it was heard from.
//!
//! It lies beside the sound, in `said.json`, so that it stays with the evening when the archive is
//! made again or the folder goes elsewhere.

use super::{SOUND, Shelf, ShelfError, folder};
use serde::{Deserialize, Serialize};
use std::io::{ErrorKind, Read, Write};
use std::path::PathBuf;

/// The file in the evening's folder.
const SAID: &str = "said.json";
/// Longest note, bytes: some pages.
pub const LONGEST_NOTE: usize = 8 * 1024;
/// Longest name of a station, bytes.
pub const LONGEST_NAME: usize = 64;
/// Most bytes that are read: what is more is not ours.
const MOST_BYTES: u64 = 64 * 1024;

/// What a person said of an evening.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Said {
    /// Anything worth knowing; at most [`LONGEST_NOTE`] bytes.
    pub note: String,
    /// Whom it was heard from; at most [`LONGEST_NAME`] bytes.
    pub station: String,
}

impl Shelf {
    /// What was said of an evening; nothing where nobody said anything.
    ///
    /// Errors: no such evening; what was said cannot be read.
    pub fn said(&self, evening: i64) -> Result<Said, ShelfError> {
        let path = self.folder(evening)?.join(SAID);
        let file = match std::fs::File::open(&path) {
            Ok(file) if folder::is_file(&path) => file,
            Ok(_) => return Ok(Said::default()),
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Said::default()),
            Err(error) => return Err(ShelfError::Io { path, error }),
        };
        let mut text = String::new();
        file.take(MOST_BYTES)
            .read_to_string(&mut text)
            .map_err(ShelfError::at(&path))?;
        // What is damaged says nothing.
        Ok(serde_json::from_str(&text).unwrap_or_default())
    }

    /// Keeps what a person says of an evening, in place of what was said before.
    ///
    /// Errors: no such evening; too long; it cannot be written.
    pub fn say(&mut self, evening: i64, said: &Said) -> Result<(), ShelfError> {
        for (what, text, most) in [
            ("note", &said.note, LONGEST_NOTE),
            ("name of a station", &said.station, LONGEST_NAME),
        ] {
            if text.len() > most {
                let length = text.len();
                return Err(ShelfError::TooLong { what, length, most });
            }
        }
        let folder = self.folder(evening)?;
        std::fs::create_dir_all(&folder).map_err(ShelfError::at(&folder))?;
        let text = serde_json::to_string(said).unwrap_or_default();
        // Whole or not at all.
        let mut new = tempfile::NamedTempFile::new_in(&folder).map_err(ShelfError::at(&folder))?;
        new.write_all(text.as_bytes())
            .and_then(|()| new.as_file().sync_data())
            .map_err(ShelfError::at(&folder))?;
        let path = folder.join(SAID);
        let put = new.persist(&path);
        put.map_err(|error| ShelfError::at(&path)(error.error))?;
        Ok(())
    }

    /// The folder of an evening's sound.
    pub(super) fn folder(&self, evening: i64) -> Result<PathBuf, ShelfError> {
        self.evening(evening)?;
        let mut query = self
            .archive()
            .prepare_cached("SELECT folder FROM evenings WHERE id = ?1")?;
        let name: String = query.query_row([evening], |row| row.get(0))?;
        // A name that leads elsewhere is none of ours; then there is no such evening.
        let path = folder::inside(self.place(), &name, SAID);
        let asked = || ShelfError::NoEvening {
            asked: evening.to_string(),
        };
        let path = path.ok_or_else(asked)?.with_file_name("");
        debug_assert!(path.starts_with(self.place().join(SOUND)));
        Ok(path)
    }
}
