//! Room for sound is bounded: the oldest goes first. Copy never goes.

use super::{KeepSettings, SOUND};
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

/// Removes the oldest files until all with the open one take no more than `limit` bytes.
/// Returns how many went and their bytes.
pub(super) fn make(
    archive: &Connection,
    place: &Path,
    limit: u64,
    open: &Open,
) -> rusqlite::Result<(u64, u64)> {
    let mut total = open.bytes + others(archive, open)?;
    let (mut files, mut freed) = (0, 0);
    if total <= limit {
        return Ok((0, 0));
    }
    let mut oldest = archive.prepare(
        "SELECT s.id, s.bytes, e.folder, s.file
         FROM segments s JOIN evenings e ON e.id = s.evening
         WHERE s.removed_ms IS NULL AND NOT (s.evening = ?1 AND s.number = ?2)
         ORDER BY e.begin_ms + s.begin_s * 1000",
    )?;
    let mut rows = oldest.query(params![open.evening, open.number])?;
    let mut gone = Vec::new();
    while let (true, Some(row)) = (total > limit, rows.next()?) {
        let bytes = row.get::<_, i64>(1)? as u64;
        let folder = place.join(SOUND).join(row.get::<_, String>(2)?);
        if remove(&folder.join(row.get::<_, String>(3)?)) {
            gone.push(row.get::<_, i64>(0)?);
            // The folder goes with its last file.
            let _ = std::fs::remove_dir(&folder);
            total -= bytes.min(total);
            files += 1;
            freed += bytes;
        }
    }
    drop(rows);
    let now = jiff::Timestamp::now().as_millisecond();
    for id in gone {
        archive.execute(
            "UPDATE segments SET removed_ms = ?2 WHERE id = ?1",
            params![id, now],
        )?;
    }
    Ok((files, freed))
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
