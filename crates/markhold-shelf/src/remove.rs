//! Takes an evening off the shelf for good: sound, copy and all that was said of it.

use super::{Evenings, Shelf, ShelfError};
use rusqlite::{Transaction, TransactionBehavior};
use std::io::ErrorKind;

/// What hangs on an evening, the leaves first. A line leaves the index of words before it goes.
const STEPS: [&str; 12] = [
    "INSERT INTO words (words, rowid, text)
         SELECT 'delete', l.id, l.text FROM lines l
             JOIN signals s ON s.id = l.signal JOIN readings r ON r.id = s.reading
         WHERE r.evening = ?1 AND l.closed",
    "DELETE FROM lines WHERE signal IN
         (SELECT s.id FROM signals s JOIN readings r ON r.id = s.reading WHERE r.evening = ?1)",
    "DELETE FROM measurements WHERE signal IN
         (SELECT s.id FROM signals s JOIN readings r ON r.id = s.reading WHERE r.evening = ?1)",
    "DELETE FROM signals WHERE reading IN (SELECT id FROM readings WHERE evening = ?1)",
    "DELETE FROM readings WHERE evening = ?1",
    "DELETE FROM gaps WHERE evening = ?1",
    "DELETE FROM clock_steps WHERE evening = ?1",
    "DELETE FROM work WHERE evening = ?1",
    // What was put together of it and others is put together anew without it.
    "DELETE FROM known WHERE EXISTS (SELECT 1 FROM json_each(made_of) AS part
         WHERE json_extract(part.value, '$[0]') = ?1)",
    "DELETE FROM sent WHERE evening = ?1",
    "DELETE FROM segments WHERE evening = ?1",
    "DELETE FROM evenings WHERE id = ?1",
];

impl Shelf {
    /// Removes an evening: its sound, its copy, what it taught and what was said of it. The daily
    /// copies of the archive that were made before hold its copy until later ones take their
    /// place.
    ///
    /// Errors: no such evening; it is being kept; its folder or the archive cannot be changed.
    pub fn remove(&mut self, evening: i64) -> Result<(), ShelfError> {
        let about = self.evening(evening)?;
        if about.end.is_none() {
            return Err(ShelfError::BeingKept { evening });
        }
        self.forget(Evenings::One(evening))?;
        // The sound first: an evening whose sound is there is entered again.
        let folder = self.folder(evening)?;
        match std::fs::remove_dir_all(&folder) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                return Err(ShelfError::at(&folder)(error));
            }
            _ => {}
        }
        let change = self
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        remove_rows(&change, evening)?;
        Ok(change.commit()?)
    }
}

fn remove_rows(change: &Transaction, evening: i64) -> rusqlite::Result<()> {
    for step in STEPS {
        change.execute(step, [evening])?;
    }
    Ok(())
}
