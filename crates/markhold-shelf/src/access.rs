//! Opens the archive to write in it, whatever became of it.
//!
//! ```text
//!   there, sound ----------------------------------------------> opened
//!   there, damaged --> set aside (renamed) --+
//!   not there --------------------------------+--> latest sound copy, or a new one --> opened
//! ```
//!
//! Then the evenings whose sound is there and that it does not know are entered from what their
//! folders say of themselves ([`super::recover`]).

use super::schema::{self, AT_ONCE, FILE, beside};
use super::words::is_damage;
use super::{ShelfError, copies, recover};
use rusqlite::Connection;
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Locked while the archive is looked at and perhaps set aside: of two programs that start at
/// once, the second must not set aside what the first has just made.
const TURN: &str = "opening";

/// What was found at the opening.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Found {
    /// A damaged archive, and where it is now; without a byte it is nowhere.
    pub(super) damaged: Option<Option<PathBuf>>,
    /// Evenings entered again from their sound.
    pub(super) adopted: usize,
}

/// Opens the archive of the shelf in `place`; it is made where it is missing.
///
/// Errors: a later layout, damage, no access.
pub(super) fn open(place: &Path) -> Result<Connection, ShelfError> {
    std::fs::create_dir_all(place).map_err(ShelfError::at(place))?;
    let _turn = turn(place)?;
    if std::fs::symlink_metadata(place.join(FILE)).is_err() {
        begin_anew(place)?;
    }
    let mut archive = schema::open(place)?;
    recover::recover(&mut archive, place)?;
    Ok(archive)
}

/// As [`open`], but a damaged archive is set aside and made again; also one that looks sound,
/// where it is known to be `damaged`.
///
/// Errors: a later layout, no access for now.
pub(super) fn open_whatever(
    place: &Path,
    damaged: bool,
) -> Result<(Connection, Found), ShelfError> {
    std::fs::create_dir_all(place).map_err(ShelfError::at(place))?;
    let _turn = turn(place)?;
    let file = place.join(FILE);
    let there = std::fs::symlink_metadata(&file).is_ok();
    let examined = match there {
        true if damaged => None,
        true => match examine(place, &file) {
            Err(error) if error.is_damage() => None,
            other => Some(other?),
        },
        false => None,
    };
    if let Some((archive, adopted)) = examined {
        let damaged = None;
        return Ok((archive, Found { damaged, adopted }));
    }
    let damaged = match there {
        true => Some(set_aside(place, &file)?),
        false => None,
    };
    begin_anew(place)?;
    let mut archive = schema::connect(&file, AT_ONCE)?;
    let adopted = recover::recover(&mut archive, place)?;
    Ok((archive, Found { damaged, adopted }))
}

/// Opens what is there, after it was found to be sound, and enters what it does not know.
fn examine(place: &Path, file: &Path) -> Result<(Connection, usize), ShelfError> {
    schema::is_an_archive(file)?;
    let mut archive = schema::connect(file, AT_ONCE)?;
    if !copies::quick_check(&archive)? {
        // Indexes are made again from their tables; that mends what needs no setting aside.
        let mended = archive.execute_batch("REINDEX");
        if mended.is_err() || !copies::quick_check(&archive)? {
            let detail = "it contradicts itself".to_string();
            let file = file.to_path_buf();
            return Err(ShelfError::NotAnArchive { file, detail });
        }
    }
    let adopted = recover::recover(&mut archive, place)?;
    Ok((archive, adopted))
}

/// Makes the index of words again, which is made from the lines.
///
/// Errors: of the database; whether they are damage, the caller looks.
pub(super) fn mend_words(archive: &Connection) -> rusqlite::Result<()> {
    archive.execute("INSERT INTO words (words) VALUES ('rebuild')", [])?;
    Ok(())
}

/// Renames a damaged archive. Returns its new name; `None` for one without a byte, which is
/// removed.
fn set_aside(place: &Path, file: &Path) -> Result<Option<PathBuf>, ShelfError> {
    if std::fs::symlink_metadata(file).is_ok_and(|about| about.is_file() && about.len() == 0) {
        std::fs::remove_file(file).map_err(ShelfError::at(file))?;
        return Ok(None);
    }
    let now = jiff::Timestamp::now()
        .strftime("%Y-%m-%d-%H%M%SZ")
        .to_string();
    let names = (1..).map(|k| match k {
        1 => format!("markhold-damaged-{now}.sqlite"),
        k => format!("markhold-damaged-{now}-{k}.sqlite"),
    });
    let free = |path: &PathBuf| std::fs::symlink_metadata(path).is_err();
    let mut paths = names.map(|name| place.join(name)).filter(free);
    let aside = paths
        .next()
        .unwrap_or_else(|| place.join("markhold-damaged.sqlite"));
    // The archive itself goes last: a journal that stayed behind would be taken for the new one's.
    for behind in ["-wal", "-shm", ""] {
        let from = beside(file, behind);
        if std::fs::symlink_metadata(&from).is_ok() {
            std::fs::rename(&from, beside(&aside, behind)).map_err(ShelfError::at(&from))?;
        }
    }
    Ok(Some(aside))
}

/// Puts the latest copy, or else a new archive, where there is none. It is whole before it
/// stands there.
fn begin_anew(place: &Path) -> Result<(), ShelfError> {
    let file = place.join(FILE);
    for behind in ["-wal", "-shm"] {
        // Of an archive that was taken away.
        let _ = std::fs::remove_file(beside(&file, behind));
    }
    if copies::restore(place)? {
        return Ok(());
    }
    let begun = beside(&file, ".begun");
    for behind in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(beside(&begun, behind));
    }
    let archive = schema::connect(&begun, AT_ONCE)?;
    archive.close().map_err(|(_, error)| error)?;
    std::fs::rename(&begun, &file).map_err(ShelfError::at(&file))
}

/// Waits a moment for its turn to open the archive.
fn turn(place: &Path) -> Result<File, ShelfError> {
    let path = place.join(TURN);
    let is_other = std::fs::symlink_metadata(&path).is_ok_and(|about| !about.is_file());
    if is_other {
        return Err(ShelfError::Held);
    }
    let file = File::create(&path).map_err(ShelfError::at(&path))?;
    let begin = std::time::Instant::now();
    loop {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) if begin.elapsed() < AT_ONCE => {
                std::thread::sleep(Duration::from_millis(5));
            }
            Err(TryLockError::WouldBlock) => return Err(ShelfError::Held),
            // Where the file system knows no locks, everybody has his turn.
            _ => return Ok(file),
        }
    }
}

/// Whether an error of the database means that its index of words is damaged.
pub(super) fn is_damage_of_words(error: &rusqlite::Error) -> bool {
    let extended = error.sqlite_error().map(|error| error.extended_code);
    is_damage(error) && extended == Some(rusqlite::ffi::SQLITE_CORRUPT_VTAB)
}
