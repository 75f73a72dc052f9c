//! Room for sound is bounded: the oldest goes first. Copy never goes.

use super::notes::NOTES;
use super::{KeepSettings, folder};
use rusqlite::{Connection, params};
use std::io::ErrorKind;
use std::path::Path;

/// Files that the limit holds at least, so that removing one is not removing everything.
const LEAST_FILES: u64 = 4;

/// The file about to be filled.
pub(super) struct Open {
    pub(super) evening: i64,
    pub(super) number: u32,
    /// Bytes it will have.
    pub(super) bytes: u64,
}

/// Length of a sound file, s: as set, but several must fit on the shelf.
pub(super) fn segment_s(settings: &KeepSettings, rate: u32) -> f64 {
    let most = settings.sound_bytes / LEAST_FILES;
    let samples = most.saturating_sub(super::recorder::bytes_of(0)) / 2;
    // A second at least: with no room at all recording would only fill the folder.
    settings
        .segment_s
        .min(samples as f64 / f64::from(rate))
        .max(1.0)
}

/// What was done to make room.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Made {
    /// Files removed.
    pub(super) files: u64,
    /// Their bytes together.
    pub(super) bytes: u64,
    /// Bytes that are still too many: nothing may be removed any more.
    pub(super) over: u64,
}

/// Removes the oldest files until all with the open one take no more than `limit` bytes.
///
/// The oldest are those of the evening with the lowest number, whatever a clock said; none of an
/// evening that is being kept is ever removed.
pub(super) fn make(
    archive: &Connection,
    place: &Path,
    limit: u64,
    open: &Open,
) -> rusqlite::Result<Made> {
    let mut total = open.bytes + others(archive, open)?;
    let mut made = Made::default();
    if total <= limit {
        return Ok(made);
    }
    let mut oldest = archive.prepare(
        "SELECT s.id, s.bytes, e.folder, s.file
         FROM segments s JOIN evenings e ON e.id = s.evening
         WHERE s.removed_ms IS NULL AND e.id <> ?1 AND e.end_ms IS NOT NULL
         ORDER BY e.id, s.number",
    )?;
    let mut rows = oldest.query(params![open.evening])?;
    let mut gone = Vec::new();
    while let (true, Some(row)) = (total > limit, rows.next()?) {
        let bytes = row.get::<_, i64>(1)? as u64;
        let (folder, file): (String, String) = (row.get(2)?, row.get(3)?);
        // A name that leads elsewhere is no file of ours.
        let Some(path) = folder::inside(place, &folder, &file) else {
            continue;
        };
        if remove(&path) {
            gone.push(row.get::<_, i64>(0)?);
            remove_empty(path.parent());
            total -= bytes.min(total);
            made.files += 1;
            made.bytes += bytes;
        }
    }
    made.over = total.saturating_sub(limit);
    drop(rows);
    let now = jiff::Timestamp::now().as_millisecond();
    for id in gone {
        archive.execute(
            "UPDATE segments SET removed_ms = ?2 WHERE id = ?1",
            params![id, now],
        )?;
    }
    Ok(made)
}

/// The folder goes with its last sound, and its notes with it.
fn remove_empty(folder: Option<&Path>) {
    let Some(folder) = folder else {
        return;
    };
    let names = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names = names.map(|entry| entry.file_name());
    if names.all(|name| name == NOTES) {
        let _ = std::fs::remove_file(folder.join(NOTES));
        let _ = std::fs::remove_dir(folder);
    }
}

/// Bytes of all files that are there, except the open one.
fn others(archive: &Connection, open: &Open) -> rusqlite::Result<u64> {
    let bytes: i64 = archive.query_row(
        "SELECT coalesce(sum(bytes), 0) FROM segments
         WHERE removed_ms IS NULL AND NOT (evening = ?1 AND number = ?2)",
        params![open.evening, open.number],
        |row| row.get(0),
    )?;
    Ok(bytes as u64)
}

/// Whether the file is gone now.
fn remove(file: &Path) -> bool {
    match std::fs::remove_file(file) {
        Ok(()) => true,
        Err(error) => error.kind() == ErrorKind::NotFound,
    }
}
