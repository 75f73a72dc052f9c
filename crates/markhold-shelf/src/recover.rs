//! After a crash or a power cut: what was being kept is ended properly.

use super::recorder::bytes_of;
use super::{GapCause, SOUND, ShelfError, folder};
use jiff::Timestamp;
use markhold_sound::{ReadOptions, SoundReader, repair_wav};
use rusqlite::{Connection, TransactionBehavior, params};
use std::path::{Path, PathBuf};

/// An evening that was begun and not ended.
struct Broken {
    id: i64,
    begin: Timestamp,
    folder: PathBuf,
}

/// Ends every evening that nobody keeps any more. Returns how many there were.
pub(super) fn recover(archive: &mut Connection, place: &Path) -> Result<usize, ShelfError> {
    let mut broken = broken(archive, place)?;
    broken.retain(|evening| !folder::is_being_kept(&evening.folder));
    for evening in &broken {
        recover_sound(archive, evening)?;
        end(archive, evening)?;
        let _ = std::fs::remove_file(evening.folder.join(folder::LOCK));
    }
    Ok(broken.len())
}

fn broken(archive: &Connection, place: &Path) -> Result<Vec<Broken>, ShelfError> {
    let mut query =
        archive.prepare("SELECT id, begin_ms, folder FROM evenings WHERE end_ms IS NULL")?;
    let rows = query.query_map([], |row| {
        Ok(Broken {
            id: row.get(0)?,
            begin: Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(),
            folder: place.join(SOUND).join(row.get::<_, String>(2)?),
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Brings the headers of the sound up to date and the archive's word on it, files among
/// them that it does not know of yet.
fn recover_sound(archive: &Connection, evening: &Broken) -> Result<(), ShelfError> {
    for file in files(&evening.folder) {
        let path = evening.folder.join(&file);
        let Some(number) = number(&file) else {
            continue;
        };
        // What cannot be read stays where it is, but a file just begun holds nothing.
        let Ok(found) = repair_wav(&path) else {
            remove_empty(&path);
            continue;
        };
        let (frames, bytes) = (found.frames as i64, bytes_of(found.frames) as i64);
        let known = archive.execute(
            "UPDATE segments SET samples = ?3, bytes = ?4
             WHERE evening = ?1 AND number = ?2 AND removed_ms IS NULL",
            params![evening.id, number, frames, bytes],
        )?;
        if let (0, Some(begin_s)) = (known, begin_s(&path, evening)) {
            archive.execute(
                "INSERT OR IGNORE INTO segments
                     (evening, number, file, begin_s, rate, samples, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![evening.id, number, file, begin_s, found.rate, frames, bytes],
            )?;
        }
    }
    Ok(())
}

fn remove_empty(path: &Path) {
    if std::fs::metadata(path).is_ok_and(|about| about.is_file() && about.len() == 0) {
        let _ = std::fs::remove_file(path);
    }
}

/// Names of the folder's files in order; none where there is no folder.
fn files(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let names = entries
        .flatten()
        .map(|entry| entry.file_name().into_string());
    let mut names: Vec<String> = names.flatten().collect();
    names.sort();
    names
}

/// The number in a name such as `0012-193005Z.wav`; `None` for a file of other origin.
fn number(file: &str) -> Option<u32> {
    let (number, rest) = file.strip_suffix(".wav")?.split_once('-')?;
    let clock = rest.strip_suffix('Z')?;
    let digits =
        |text: &str, count| text.len() == count && text.bytes().all(|b| b.is_ascii_digit());
    let ours = number.len() >= 4 && digits(number, number.len()) && digits(clock, 6);
    number.parse().ok().filter(|_| ours)
}

/// When a file's sound begins, by its own time stamp.
fn begin_s(path: &Path, evening: &Broken) -> Option<f64> {
    let sound = SoundReader::open(path, &ReadOptions::default()).ok()?;
    let begin = sound.bext()?.time_stamp?.begin_exact(sound.rate());
    let begin = begin
        .to_zoned_datetime(jiff::tz::TimeZone::UTC)
        .ok()?
        .timestamp();
    Some(begin.duration_since(evening.begin).as_secs_f64())
}

/// Ends it where its copy and sound end; what may have followed is missing.
fn end(archive: &mut Connection, evening: &Broken) -> Result<(), ShelfError> {
    let change = archive.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let last_s: f64 = change.query_row(
        "SELECT max(coalesce((SELECT max(heard_s) FROM readings WHERE evening = ?1), 0),
                    coalesce((SELECT max(begin_s + samples * 1.0 / rate)
                              FROM segments WHERE evening = ?1), 0))",
        [evening.id],
        |row| row.get(0),
    )?;
    let end_ms = evening.begin.as_millisecond() + (last_s * 1e3) as i64;
    change.execute(
        "UPDATE lines SET closed = 1 WHERE NOT closed AND signal IN
             (SELECT s.id FROM signals s JOIN readings r ON r.id = s.reading
              WHERE r.evening = ?1)",
        [evening.id],
    )?;
    change.execute(
        "UPDATE readings SET finished = 1 WHERE evening = ?1 AND live",
        [evening.id],
    )?;
    change.execute(
        "INSERT OR IGNORE INTO gaps (evening, begin_s, length_s, cause) VALUES (?1, ?2, NULL, ?3)",
        params![evening.id, last_s, GapCause::Stopped.word()],
    )?;
    change.execute(
        "UPDATE evenings SET end_ms = ?2 WHERE id = ?1",
        params![evening.id, end_ms],
    )?;
    Ok(change.commit()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_our_own_names_count() {
        assert_eq!(number("0012-193005Z.wav"), Some(12));
        assert_eq!(number("12345-193005Z.wav"), Some(12_345));
        for other in [
            "12-193005Z.wav",
            "0012-193005.wav",
            "0012-19300Z.wav",
            "+012-193005Z.wav",
            "notes.txt",
            "0012-193005Z.wav.bak",
            "99999999999-193005Z.wav",
        ] {
            assert_eq!(number(other), None, "{other}");
        }
    }
}
