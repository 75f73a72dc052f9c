//! Copies of the archive, one a day, so that damage to it costs a day of copy at most; and that
//! is copied again from the sound.
//!
//! `copies/000123-2026-03-21.sqlite` holds all evenings up to number 123 and all skeds. The number goes first:
//! a clock that was wrong puts no old copy before a new one.

use super::schema::{self, beside};
use super::words::is_damage;
use super::{ShelfError, folder};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};

/// The folder of the copies in the shelf's folder.
const COPIES: &str = "copies";

/// Copies kept; the oldest goes first.
const MOST: usize = 5;

/// Makes today's copy, unless there is one or nothing to copy. `archive` is a connection of its
/// own: this takes a second or so for a year of evenings.
///
/// Errors: the archive cannot be read, or the copy not written.
pub(super) fn make(archive: &Connection, place: &Path) -> Result<(), ShelfError> {
    let last: Option<i64> = archive.query_row("SELECT max(id) FROM evenings", [], |r| r.get(0))?;
    let skeds: i64 = archive.query_row("SELECT count(*) FROM skeds", [], |r| r.get(0))?;
    let last = match (last, skeds) {
        (Some(last), _) => last,
        (None, 0) => return Ok(()),
        (None, _) => 0,
    };
    let today = jiff::Timestamp::now().strftime("%Y-%m-%d").to_string();
    let there = all(place);
    if there
        .iter()
        .any(|copy| name(copy).ends_with(&format!("{today}.sqlite")))
    {
        return Ok(());
    }
    let folder = place.join(COPIES);
    std::fs::create_dir_all(&folder).map_err(ShelfError::at(&folder))?;
    let copy = folder.join(format!("{last:06}-{today}.sqlite"));
    write(archive, &copy)?;
    for old in there.iter().skip(MOST - 1) {
        // One that cannot be removed is tried again tomorrow.
        let _ = std::fs::remove_file(old);
    }
    Ok(())
}

/// Under another name until it is whole: what breaks off is no copy.
fn write(archive: &Connection, copy: &Path) -> Result<(), ShelfError> {
    let begun = beside(copy, ".begun");
    let _ = std::fs::remove_file(&begun);
    let result = archive.execute("VACUUM INTO ?1", [begun.to_string_lossy()]);
    if let Err(error) = result {
        let _ = std::fs::remove_file(&begun);
        return Err(error.into());
    }
    let synced = std::fs::File::open(&begun).and_then(|file| file.sync_all());
    let moved = synced.and_then(|()| std::fs::rename(&begun, copy));
    moved.map_err(ShelfError::at(copy))
}

/// All copies, the latest first.
fn all(place: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(place.join(COPIES)) else {
        return Vec::new();
    };
    let paths = entries.flatten().map(|entry| entry.path());
    let mut copies: Vec<PathBuf> = paths.filter(|p| is_copy(p) && folder::is_file(p)).collect();
    copies.sort();
    copies.reverse();
    copies
}

fn name(path: &Path) -> &str {
    path.file_name()
        .and_then(|name| name.to_str())
        .unwrap_or_default()
}

fn is_copy(path: &Path) -> bool {
    let Some((number, date)) = name(path).split_once('-') else {
        return false;
    };
    number.parse::<u64>().is_ok()
        && date.len() == "2026-03-21.sqlite".len()
        && date.ends_with(".sqlite")
}

/// Puts the latest copy that is sound in the archive's place, where nothing stands. Whether
/// there was one.
///
/// Errors: it cannot be written.
pub(super) fn restore(place: &Path) -> Result<bool, ShelfError> {
    let Some(copy) = all(place).into_iter().find(|copy| is_sound(copy)) else {
        return Ok(false);
    };
    let file = place.join(schema::FILE);
    let begun = beside(&file, ".begun");
    let copied = std::fs::copy(&copy, &begun)
        .and_then(|_| std::fs::File::open(&begun)?.sync_all())
        .and_then(|()| std::fs::rename(&begun, &file));
    copied.map_err(ShelfError::at(&file))?;
    Ok(true)
}

fn is_sound(copy: &Path) -> bool {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
    let checked = Connection::open_with_flags(copy, flags).and_then(|c| quick_check(&c));
    checked.unwrap_or(false)
}

/// Whether the database finds nothing against itself; indexes that disagree with their tables
/// count as damage, words of the index are not looked at.
///
/// Errors: it cannot be read for another reason than damage.
pub(super) fn quick_check(archive: &Connection) -> rusqlite::Result<bool> {
    let found = archive.query_row("PRAGMA quick_check(1)", [], |r| r.get::<_, String>(0));
    match found {
        Ok(word) => Ok(word == "ok"),
        Err(error) if is_damage(&error) => Ok(false),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evening(archive: &Connection, id: i64) {
        let row = "INSERT INTO evenings (id, begin_ms, zone, input, settings, folder)
                   VALUES (?1, 5, 'UTC', 'test', 'null', ?1)";
        archive.execute(row, [id]).unwrap();
    }

    #[test]
    fn one_a_day_and_no_more_than_are_kept() {
        let folder = tempfile::tempdir().unwrap();
        let archive = schema::open(folder.path()).unwrap();
        make(&archive, folder.path()).unwrap();
        assert!(all(folder.path()).is_empty(), "there is nothing to copy");
        evening(&archive, 1);
        for _ in 0..2 {
            make(&archive, folder.path()).unwrap();
            assert_eq!(all(folder.path()).len(), 1);
        }
        for day in 1..=9 {
            // Yesterday's, by a clock that went astray.
            let today = all(folder.path()).remove(0);
            let other = format!("{day:06}-19{day:02}-01-01.sqlite");
            std::fs::rename(&today, today.with_file_name(other)).unwrap();
            evening(&archive, day + 1);
            make(&archive, folder.path()).unwrap();
        }
        let names: Vec<String> = all(folder.path())
            .iter()
            .map(|c| name(c)[..6].to_string())
            .collect();
        assert_eq!(names, ["000010", "000009", "000008", "000007", "000006"]);
    }

    #[test]
    fn the_latest_sound_copy_is_taken() {
        let folder = tempfile::tempdir().unwrap();
        let archive = schema::open(folder.path()).unwrap();
        evening(&archive, 1);
        make(&archive, folder.path()).unwrap();
        let copy = all(folder.path()).remove(0);
        std::fs::write(
            copy.with_file_name("000002-2026-03-21.sqlite"),
            b"Dear friends",
        )
        .unwrap();
        drop(archive);
        std::fs::remove_file(folder.path().join(schema::FILE)).unwrap();
        assert!(restore(folder.path()).unwrap());
        let archive = schema::open(folder.path()).unwrap();
        let count: i64 = archive
            .query_row("SELECT count(*) FROM evenings", [], |r| r.get(0))
            .unwrap();
        assert_eq!(count, 1);
    }
}
