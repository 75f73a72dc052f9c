//! The archive's layout, and how an older one becomes the present one.
//!
//! Times are Unix milliseconds (`*_ms`) or seconds from the first sample of the evening
//! (`*_s`). Copy is only ever added: copying again makes a new reading.

use super::ShelfError;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;
use std::time::Duration;

/// The archive's file in the shelf's folder.
pub(super) const FILE: &str = "markhold.sqlite";

/// How long a writer waits for another one.
const BUSY: Duration = Duration::from_secs(10);

/// Step `k` leads from layout `k` to `k + 1`. Steps are added, never changed.
const STEPS: &[&str] = &[
    include_str!("layout_1.sql"),
    include_str!("layout_2.sql"),
    include_str!("layout_3.sql"),
];

/// Opens the archive's file and brings it to the present layout.
///
/// Errors: a later layout, a file that is no archive, no access.
pub(super) fn open(folder: &Path) -> Result<Connection, ShelfError> {
    let file = folder.join(FILE);
    let not_an_archive = |error: ShelfError| match error {
        ShelfError::Database(error) if is_damage(&error) => ShelfError::NotAnArchive {
            file: file.clone(),
            detail: error.to_string(),
        },
        other => other,
    };
    connect(&file).map_err(not_an_archive)
}

fn connect(file: &Path) -> Result<Connection, ShelfError> {
    let mut connection = Connection::open(file)?;
    connection.busy_timeout(BUSY)?;
    // A reader never waits for the keeper; FULL puts every batch on the disk itself.
    connection.pragma_update(None, "journal_mode", "wal")?;
    connection.pragma_update(None, "synchronous", "full")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    migrate(&mut connection, STEPS)?;
    Ok(connection)
}

fn migrate(connection: &mut Connection, steps: &[&str]) -> Result<(), ShelfError> {
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
        change.execute_batch(step)?;
    }
    change.pragma_update(None, "user_version", known)?;
    Ok(change.commit()?)
}

fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
    matches!(
        error.sqlite_error_code(),
        Some(NotADatabase | DatabaseCorrupt)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_walked_once_each() {
        let mut connection = Connection::open_in_memory().unwrap();
        let one = ["CREATE TABLE a (x)"];
        let two = [one[0], "ALTER TABLE a ADD COLUMN y DEFAULT 7"];
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
        let bad = ["CREATE TABLE a (x)", "CREATE TABLE a (x)"];
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
