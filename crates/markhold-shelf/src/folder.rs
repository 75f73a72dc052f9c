//! The folder of an evening's sound, and the mark that it is being kept.

use super::{SOUND, ShelfError};
use jiff::Timestamp;
use rusqlite::Connection;
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

/// Locked in an evening's folder for as long as it is kept; the system unlocks it however
/// the program ends.
pub(super) const LOCK: &str = "being-kept";

/// Makes the evening's folder, under a name that no other evening ever had.
pub(super) fn make(
    archive: &Connection,
    place: &Path,
    begin: Timestamp,
) -> Result<PathBuf, ShelfError> {
    let sound = place.join(SOUND);
    std::fs::create_dir_all(&sound).map_err(ShelfError::at(&sound))?;
    let name = begin.strftime("%Y-%m-%d-%H%M%SZ").to_string();
    let names = (1..).map(|k| {
        if k == 1 {
            name.clone()
        } else {
            format!("{name}-{k}")
        }
    });
    for name in names {
        let folder = sound.join(&name);
        let known = "SELECT EXISTS (SELECT 1 FROM evenings WHERE folder = ?1)";
        if archive.query_row(known, [&name], |row| row.get(0))? {
            continue;
        }
        match std::fs::create_dir(&folder) {
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            other => {
                return other
                    .map(|()| folder.clone())
                    .map_err(ShelfError::at(&folder));
            }
        }
    }
    unreachable!("there is always one more number")
}

/// Marks the folder of an evening as being kept, for as long as the file is held.
pub(super) fn lock(folder: &Path) -> std::io::Result<File> {
    let file = File::create(folder.join(LOCK))?;
    // Where the file system knows no locks, another program may end the evening early;
    // the keeper's own words then win.
    let _ = file.try_lock();
    Ok(file)
}

/// Takes the mark away.
pub(super) fn unlock(folder: &Path, lock: File) {
    drop(lock);
    let _ = std::fs::remove_file(folder.join(LOCK));
}

/// Whether a program that still runs keeps the evening.
pub(super) fn is_being_kept(folder: &Path) -> bool {
    let lock = File::open(folder.join(LOCK)).map(|file| file.try_lock());
    matches!(lock, Ok(Err(TryLockError::WouldBlock)))
}
