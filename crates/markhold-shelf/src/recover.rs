//! After a crash, a power cut, or with an archive made again: what was being kept is ended
//! properly, and what the archive does not know is entered from its sound.

use super::evening::Evening;
use super::notes::{self, Noted};
use super::recorder::bytes_of;
use super::rows::{enter, save_gaps, save_sent, save_steps, set_station};
use super::{GapCause, SOUND, ShelfError, certainty, folder};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use markhold_sound::{ReadOptions, SoundReader, repair_wav};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Two gaps that begin within this are the same one, s.
const SAME_GAP_S: f64 = 1e-3;

/// An evening that was begun and not ended.
struct Broken {
    id: i64,
    begin: Timestamp,
    folder: PathBuf,
    noted: Noted,
}

/// Ends every evening that nobody keeps any more, and enters those that the archive does not
/// know. Returns how many were entered.
pub(super) fn recover(archive: &mut Connection, place: &Path) -> Result<usize, ShelfError> {
    for evening in broken(archive, place)? {
        mend(archive, &evening)?;
    }
    let unknown = unknown(archive, place)?;
    for (folder, noted) in &unknown {
        if let Some(evening) = adopt(archive, folder, noted)? {
            mend(archive, &evening)?;
        }
    }
    Ok(unknown.len())
}

fn mend(archive: &mut Connection, evening: &Broken) -> Result<(), ShelfError> {
    recover_sound(archive, evening)?;
    end(archive, evening)?;
    let _ = std::fs::remove_file(evening.folder.join(folder::LOCK));
    Ok(())
}

fn broken(archive: &Connection, place: &Path) -> Result<Vec<Broken>, ShelfError> {
    let mut query =
        archive.prepare("SELECT id, begin_ms, folder FROM evenings WHERE end_ms IS NULL")?;
    let rows = query.query_map([], |row| {
        let name: String = row.get(2)?;
        let begin = Timestamp::from_millisecond(row.get(1)?).unwrap_or_default();
        Ok((row.get(0)?, begin, name))
    })?;
    let mut broken = Vec::new();
    for row in rows {
        let (id, begin, name) = row?;
        // A name that leads elsewhere has no sound.
        let Some(notes) = folder::inside(place, &name, notes::NOTES) else {
            continue;
        };
        let folder = notes.with_file_name("");
        if !folder::is_being_kept(&folder) {
            let noted = notes::read(&folder);
            broken.push(Broken {
                id,
                begin,
                folder,
                noted,
            });
        }
    }
    Ok(broken)
}

/// Folders of evenings that the archive does not know and nobody keeps, those with a number
/// first.
fn unknown(archive: &Connection, place: &Path) -> Result<Vec<(PathBuf, Noted)>, ShelfError> {
    let mut query = archive.prepare("SELECT folder FROM evenings")?;
    let known = query.query_map([], |row| row.get::<_, String>(0))?;
    let known: BTreeSet<String> = known.collect::<Result<_, _>>()?;
    let mut found = Vec::new();
    for name in files(&place.join(SOUND)) {
        let folder = place.join(SOUND).join(&name);
        let ours = folder::is_ours(&name) && !known.contains(&name);
        let is_folder = std::fs::symlink_metadata(&folder).is_ok_and(|about| about.is_dir());
        if !ours || !is_folder || folder::is_being_kept(&folder) {
            continue;
        }
        let noted = notes::read(&folder);
        let has_sound = files(&folder).iter().any(|file| number(file).is_some());
        if has_sound || noted.begin.is_some() {
            found.push((folder, noted));
        }
    }
    found.sort_by_key(|(_, noted)| noted.number.unwrap_or(i64::MAX));
    Ok(found)
}

/// Enters an evening from what its folder says; `None` where nothing tells when it began.
fn adopt(
    archive: &mut Connection,
    folder: &Path,
    noted: &Noted,
) -> Result<Option<Broken>, ShelfError> {
    let Some(begin) = noted.begin.clone().or_else(|| stamped(folder)) else {
        return Ok(None);
    };
    let inputs = match noted.inputs.is_empty() {
        true => "an input that is not known".to_string(),
        false => noted.inputs.join(", "),
    };
    let evening = Evening {
        begin: begin.clone(),
        input: inputs,
        rate: 0,
        settings: noted.settings.clone().unwrap_or_default(),
    };
    let change = archive.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let id = enter(&change, &evening, noted.number, folder)?;
    if let Some(whose) = noted.station.zip(noted.number) {
        set_station(&change, id, whose)?;
    }
    change.execute(
        "INSERT INTO readings (evening, made_ms, receiver, settings, live, whole, finished,
                               heard_s, characters, doubtful, changed)
         VALUES (?1, ?2, ?3, ?4, 1, 1, 1, 0, 0, 0, 0)",
        params![
            id,
            begin.timestamp().as_millisecond(),
            super::RECEIVER,
            evening.settings.to_string()
        ],
    )?;
    change.commit()?;
    Ok(Some(Broken {
        id,
        begin: begin.timestamp(),
        folder: folder.to_path_buf(),
        noted: noted.clone(),
    }))
}

/// When the first sound file that can be read began.
fn stamped(folder: &Path) -> Option<ZonedDateTime> {
    let files = files(folder);
    let ours = files.iter().filter(|file| number(file).is_some());
    let begin = ours
        .map(|file| folder.join(file))
        .find_map(|path| begin(&path))?;
    Some(begin.to_zoned_datetime(TimeZone::UTC))
}

/// Brings the headers of the sound up to date and the archive's word on it, files among
/// them that it does not know of yet.
fn recover_sound(archive: &mut Connection, evening: &Broken) -> Result<(), ShelfError> {
    let change = archive.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for file in files(&evening.folder) {
        let path = evening.folder.join(&file);
        let Some(number) = number(&file).filter(|_| folder::is_file(&path)) else {
            continue;
        };
        // What cannot be read stays where it is, but a file just begun holds nothing.
        let Ok(found) = repair_wav(&path) else {
            remove_empty(&path);
            continue;
        };
        let (frames, bytes) = (found.frames as i64, bytes_of(found.frames) as i64);
        let known = change.execute(
            "UPDATE segments SET samples = ?3, bytes = ?4
             WHERE evening = ?1 AND number = ?2 AND removed_ms IS NULL",
            params![evening.id, number, frames, bytes],
        )?;
        if let (0, Some(begin)) = (known, begin(&path)) {
            let begin_s = begin.duration_since(evening.begin).as_secs_f64().max(0.0);
            change.execute(
                "INSERT OR IGNORE INTO segments
                     (evening, number, file, begin_s, rate, samples, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![evening.id, number, file, begin_s, found.rate, frames, bytes],
            )?;
        }
    }
    Ok(change.commit()?)
}

fn remove_empty(path: &Path) {
    if std::fs::metadata(path).is_ok_and(|about| about.len() == 0) {
        let _ = std::fs::remove_file(path);
    }
}

/// Names of a folder's entries in order; none where there is no folder.
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
fn begin(path: &Path) -> Option<Timestamp> {
    let is_file = folder::is_file(path);
    let sound = is_file
        .then(|| SoundReader::open(path, &ReadOptions::default()))?
        .ok()?;
    let begin = sound.bext()?.time_stamp?.begin_exact(sound.rate());
    Some(begin.to_zoned_datetime(TimeZone::UTC).ok()?.timestamp())
}

/// How long the receiver may hold a character back after it heard it, s: copy that broke off has
/// not said all of what it had heard. Text typed by hand was seen to wait for ten seconds.
const HELD_BACK_S: f64 = 20.0;

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
        "UPDATE readings SET finished = 1, heard_s = max(heard_s, ?2),
                copied_s = CASE WHEN finished THEN copied_s ELSE max(copied_s - ?3, 0) END
         WHERE evening = ?1 AND live",
        params![evening.id, last_s, HELD_BACK_S],
    )?;
    certainty::fill(&change, Some(evening.id))?;
    enter_notes(&change, evening)?;
    if !evening.noted.ended {
        change.execute(
            "INSERT OR IGNORE INTO gaps (evening, begin_s, length_s, cause)
             VALUES (?1, ?2, NULL, ?3)",
            params![evening.id, last_s, GapCause::Stopped.word()],
        )?;
    }
    change.execute(
        "UPDATE evenings SET end_ms = ?2 WHERE id = ?1",
        params![evening.id, end_ms],
    )?;
    Ok(change.commit()?)
}

/// What its folder noted and the archive does not know.
fn enter_notes(change: &rusqlite::Transaction, evening: &Broken) -> Result<(), ShelfError> {
    for gap in &evening.noted.gaps {
        let known = change
            .query_row(
                "SELECT 1 FROM gaps WHERE evening = ?1 AND cause = ?2 AND abs(begin_s - ?3) < ?4",
                params![evening.id, gap.cause.word(), gap.begin_s, SAME_GAP_S],
                |_| Ok(()),
            )
            .optional()?;
        if known.is_none() {
            save_gaps(change, evening.id, std::slice::from_ref(gap))?;
        }
    }
    save_steps(change, evening.id, &evening.noted.steps)?;
    save_sent(change, evening.id, &evening.noted.sent)?;
    Ok(())
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
