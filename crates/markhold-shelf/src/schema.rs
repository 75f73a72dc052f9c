//! The archive's layout, and how an older one becomes the present one.
//!
//! Times are Unix milliseconds (`*_ms`) or seconds from the first sample of the evening
//! (`*_s`). Copy is only ever added: copying again makes a new reading.

use super::words::{is_busy, is_damage};
use super::{ShelfError, certainty};
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

/// The archive's file in the shelf's folder.
pub(super) const FILE: &str = "markhold.sqlite";

/// How long a writer waits for another one.
const BUSY: Duration = Duration::from_secs(10);

/// How long another writer is waited for when the archive is opened: listening is not to wait.
pub(super) const AT_ONCE: Duration = Duration::from_millis(250);

/// What leads from a layout to the next: statements, and what they cannot say.
struct Step {
    statements: &'static str,
    then: fn(&Connection) -> Result<(), ShelfError>,
}

const fn step(statements: &'static str) -> Step {
    Step {
        statements,
        then: |_| Ok(()),
    }
}

/// Step `k` leads from layout `k` to `k + 1`. Steps are added, never changed.
const STEPS: &[Step] = &[
    step(include_str!("layout_1.sql")),
    step(include_str!("layout_2.sql")),
    step(include_str!("layout_3.sql")),
    step(include_str!("layout_4.sql")),
    step(include_str!("layout_5.sql")),
    step(include_str!("layout_6.sql")),
    step(include_str!("layout_7.sql")),
    step(include_str!("layout_8.sql")),
    // What it lacks, layout 11 counts.
    step(include_str!("layout_9.sql")),
    step(include_str!("layout_10.sql")),
    Step {
        statements: include_str!("layout_11.sql"),
        then: |archive| certainty::fill(archive, None),
    },
    step(include_str!("layout_12.sql")),
];

/// Opens the archive's file and brings it to the present layout. It is made where it is
/// missing.
///
/// Errors: a later layout, a file that is no archive, no access.
pub(super) fn open(folder: &Path) -> Result<Connection, ShelfError> {
    let file = folder.join(FILE);
    is_an_archive(&file)?;
    let archive = connect(&file, AT_ONCE).map_err(|error| named(error, &file))?;
    archive.busy_timeout(BUSY)?;
    Ok(archive)
}

/// The archive opened for reading, and the folder of a copy if that is what is read; it goes with
/// what is dropped.
pub(super) type Readable = (Connection, Option<TempDir>);

/// As [`open`], but nothing is written in `folder`, and the file must be there.
///
/// Beside a file on a disk that may only be read nothing can be made that helps several programs
/// to share it, a journal that a crash left cannot be played, an older layout not be brought up
/// to date. Then a copy among the temporary files is read.
pub(super) fn open_to_read(folder: &Path) -> Result<Readable, ShelfError> {
    let file = folder.join(FILE);
    is_an_archive(&file)?;
    let result = match read(&file, "mode=ro") {
        Err(ShelfError::Database(error)) if !is_damage(&error) && !is_busy(&error) => {
            match has_journal(&file) {
                true => read_copy(&file),
                false => read(&file, "immutable=1"),
            }
        }
        other => other,
    };
    let result = match result {
        Err(ShelfError::Older) => read_copy(&file),
        other => other,
    };
    result.map_err(|error| named(error, &file))
}

fn read_copy(file: &Path) -> Result<Readable, ShelfError> {
    let folder = tempfile::Builder::new().prefix("markhold-").tempdir();
    let folder = folder.map_err(ShelfError::at(&std::env::temp_dir()))?;
    let copy = folder.path().join(FILE);
    for behind in ["", "-wal"] {
        let from = beside(file, behind);
        if from.exists() {
            let to = beside(&copy, behind);
            std::fs::copy(&from, &to).map_err(ShelfError::at(&from))?;
            // The rights were copied as well.
            let rights = std::fs::metadata(&to).map(|about| about.permissions());
            if let Ok(mut rights) = rights {
                #[cfg(unix)]
                std::os::unix::fs::PermissionsExt::set_mode(&mut rights, 0o600);
                #[cfg(not(unix))]
                rights.set_readonly(false);
                std::fs::set_permissions(&to, rights).map_err(ShelfError::at(&to))?;
            }
        }
    }
    Ok((connect(&copy, AT_ONCE)?, Some(folder)))
}

fn has_journal(file: &Path) -> bool {
    let journal = beside(file, "-wal");
    std::fs::metadata(journal).is_ok_and(|about| about.len() > 0)
}

/// The file whose name is this one's with something behind it.
pub(super) fn beside(file: &Path, behind: &str) -> PathBuf {
    let mut name = file.as_os_str().to_os_string();
    name.push(behind);
    name.into()
}

fn read(file: &Path, how: &str) -> Result<Readable, ShelfError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
    let connection = Connection::open_with_flags(address(file, how), flags)?;
    connection.busy_timeout(BUSY)?;
    let found: i64 = connection.pragma_query_value(None, "user_version", |r| r.get(0))?;
    match found - STEPS.len() as i64 {
        0 => Ok((connection, None)),
        1.. => Err(newer(found)),
        _ => Err(ShelfError::Older),
    }
}

/// The file as an address in the database's own sense.
fn address(file: &Path, how: &str) -> String {
    let text = file.to_string_lossy();
    let text = text
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    format!("file:{text}?{how}")
}

/// What stands there is a file of its own and not empty, or nothing.
///
/// A file without a byte was an archive once: a new one is written in one go.
pub(super) fn is_an_archive(file: &Path) -> Result<(), ShelfError> {
    let detail = match std::fs::symlink_metadata(file) {
        Ok(about) if !about.is_file() => "it is no plain file",
        Ok(about) if about.len() == 0 && !has_journal(file) => "it is empty, not one byte",
        _ => return Ok(()),
    };
    let (file, detail) = (file.to_path_buf(), detail.to_string());
    Err(ShelfError::NotAnArchive { file, detail })
}

/// Damage named by its file.
fn named(error: ShelfError, file: &Path) -> ShelfError {
    match error {
        ShelfError::Database(error) if is_damage(&error) => ShelfError::NotAnArchive {
            file: file.to_path_buf(),
            detail: error.to_string(),
        },
        other => other,
    }
}

/// Opens the file for writing; another writer is waited for so long.
pub(super) fn connect(file: &Path, busy: Duration) -> Result<Connection, ShelfError> {
    let mut connection = Connection::open(file)?;
    connection.busy_timeout(busy)?;
    // A reader never waits for the keeper; FULL puts every batch on the disk itself.
    connection.pragma_update(None, "journal_mode", "wal")?;
    connection.pragma_update(None, "synchronous", "full")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    migrate(&mut connection, STEPS)?;
    Ok(connection)
}

fn newer(found: i64) -> ShelfError {
    let known = STEPS.len() as i64;
    ShelfError::Newer { found, known }
}

fn migrate(connection: &mut Connection, steps: &[Step]) -> Result<(), ShelfError> {
    let known = steps.len() as i64;
    let layout = |c: &Connection| c.pragma_query_value(None, "user_version", |r| r.get(0));
    if layout(connection)? == known {
        return Ok(());
    }
    // Immediate: of two programs that start at once, one migrates and the other waits.
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let found: i64 = layout(&change)?;
    let Some(missing) = usize::try_from(found).ok().and_then(|at| steps.get(at..)) else {
        return Err(ShelfError::Newer { found, known });
    };
    for step in missing {
        change.execute_batch(step.statements)?;
        (step.then)(&change)?;
    }
    change.pragma_update(None, "user_version", known)?;
    Ok(change.commit()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_walked_once_each() {
        let mut connection = Connection::open_in_memory().unwrap();
        let one = ["CREATE TABLE a (x)"].map(step);
        let two = [one[0].statements, "ALTER TABLE a ADD COLUMN y DEFAULT 7"].map(step);
        migrate(&mut connection, &one).unwrap();
        connection
            .execute("INSERT INTO a (x) VALUES (1)", [])
            .unwrap();
        for _ in 0..2 {
            migrate(&mut connection, &two).unwrap();
        }
        let y: i64 = connection
            .query_row("SELECT y FROM a", [], |r| r.get(0))
            .unwrap();
        assert_eq!(y, 7);
        let error = migrate(&mut connection, &one).unwrap_err().to_string();
        assert!(
            error.contains("layout 2") && error.contains("up to 1"),
            "{error}"
        );
    }

    #[test]
    fn a_step_that_fails_changes_nothing() {
        let mut connection = Connection::open_in_memory().unwrap();
        let bad = ["CREATE TABLE a (x)"; 2].map(step);
        assert!(migrate(&mut connection, &bad).is_err());
        migrate(&mut connection, &bad[..1]).unwrap();
    }

    #[test]
    fn what_is_no_archive_is_said_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(FILE);
        let letter = "Dear friends of the marsh, ".repeat(100);
        std::fs::write(&file, &letter).unwrap();
        let error = open(folder.path()).unwrap_err();
        assert!(matches!(error, ShelfError::NotAnArchive { .. }), "{error}");
        assert_eq!(std::fs::read_to_string(&file).unwrap(), letter);
    }
}
