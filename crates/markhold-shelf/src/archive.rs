//! Opens the archive and finds evenings again.

use super::evening::zone_named;
use super::rows::own_station;
use super::schema::Readable;
use super::{
    ClockStep, Gap, GapCause, KeptEvening, Reading, SOUND, Segment, ShelfError, access, folder,
    schema,
};
use jiff::Timestamp;
use markhold_event::{Character, Key, StationId};
use rusqlite::{Connection, Row, params};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The archive with the sound beside it.
pub struct Shelf {
    place: PathBuf,
    archive: Connection,
    only_read: bool,
    /// A copy that is read in place of the archive.
    _copy: Option<TempDir>,
}

impl Shelf {
    /// Opens the shelf in the folder `place`, making it if it is missing, and ends what
    /// was being kept when a program or the power failed.
    ///
    /// Errors: a later layout, a damaged archive, no access.
    pub fn make(place: &Path) -> Result<Self, ShelfError> {
        let archive = access::open(place)?;
        Ok(Self::with(place, (archive, None), false))
    }

    /// Opens a shelf that is there. One that may not be written is opened for reading: then
    /// what a crash left stays as it is.
    ///
    /// Errors: no shelf, a later layout, a damaged archive, no access.
    pub fn open(place: &Path) -> Result<Self, ShelfError> {
        // An archive that is gone is made again from the sound.
        let is_there = |name: &str| std::fs::symlink_metadata(place.join(name)).is_ok();
        if !is_there(schema::FILE) && !is_there(SOUND) {
            let place = place.to_path_buf();
            return Err(ShelfError::Nothing { place });
        }
        match Self::make(place) {
            Err(error) if !error.is_damage() => match schema::open_to_read(place) {
                Ok(archive) => Ok(Self::with(place, archive, true)),
                // The first says why.
                Err(_) => Err(error),
            },
            other => other,
        }
    }

    fn with(place: &Path, (archive, _copy): Readable, only_read: bool) -> Self {
        let place = place.to_path_buf();
        Shelf {
            place,
            archive,
            only_read,
            _copy,
        }
    }

    /// Whether it can only be read, since it may not be written or another program holds it.
    pub fn only_read(&self) -> bool {
        self.only_read
    }

    /// The folder of the shelf.
    pub fn place(&self) -> &Path {
        &self.place
    }

    pub(super) fn archive(&self) -> &Connection {
        &self.archive
    }

    pub(super) fn archive_mut(&mut self) -> &mut Connection {
        &mut self.archive
    }

    /// Whose archive it is.
    pub fn station(&self) -> Result<StationId, ShelfError> {
        Ok(own_station(&self.archive)?)
    }

    /// The key of a character of an evening, among those of all stations.
    pub fn key(&self, evening: i64, character: &Character) -> Result<Key, ShelfError> {
        let about = self.evening(evening)?;
        Ok(Key {
            station: about.station,
            evening: about.number,
            signal: character.signal,
            character: character.id,
        })
    }

    /// The latest evenings that began from `from` on and before `until`, in order of time.
    pub fn evenings(
        &self,
        from: Option<Timestamp>,
        until: Option<Timestamp>,
        most: usize,
    ) -> Result<Vec<KeptEvening>, ShelfError> {
        let mut query = self.archive.prepare(
            "SELECT id FROM evenings WHERE begin_ms >= ?1 AND begin_ms < ?2
             ORDER BY begin_ms DESC, id DESC LIMIT ?3",
        )?;
        let from = from.map_or(i64::MIN, Timestamp::as_millisecond);
        let until = until.map_or(i64::MAX, Timestamp::as_millisecond);
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let ids = query.query_map(params![from, until, most], |row| row.get(0))?;
        let mut ids: Vec<i64> = ids.collect::<Result<_, _>>()?;
        ids.reverse();
        ids.into_iter().map(|id| self.evening(id)).collect()
    }

    /// The evening of that name. Errors: [`ShelfError::NoEvening`].
    pub fn evening(&self, id: i64) -> Result<KeptEvening, ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT begin_ms, end_ms, zone, input, settings, teaches,
                    coalesce(e.station, s.name), coalesce(e.station_number, e.id)
             FROM evenings e, station s WHERE e.id = ?1",
        )?;
        let found = query.query_row([id], |row| evening(id, row));
        let mut evening = found.map_err(|error| match error {
            rusqlite::Error::QueryReturnedNoRows => ShelfError::NoEvening {
                asked: id.to_string(),
            },
            other => other.into(),
        })?;
        self.add_sound(&mut evening)?;
        evening.names = self.names(id)?;
        evening.gaps = self.gaps(id)?;
        evening.clock_steps = self.clock_steps(id)?;
        evening.readings = self.readings(id)?;
        evening.best = self.best(&evening)?;
        Ok(evening)
    }

    fn add_sound(&self, evening: &mut KeptEvening) -> Result<(), ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT total(CASE WHEN removed_ms IS NULL THEN samples * 1.0 / rate END),
                    total(CASE WHEN removed_ms IS NOT NULL THEN samples * 1.0 / rate END),
                    total(CASE WHEN removed_ms IS NULL THEN bytes END)
             FROM segments WHERE evening = ?1",
        )?;
        let (there, removed, bytes): (f64, f64, f64) =
            query.query_row([evening.id], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?;
        (evening.sound_s, evening.removed_s) = (there, removed);
        evening.sound_bytes = bytes as u64;
        Ok(())
    }

    fn gaps(&self, evening: i64) -> Result<Vec<Gap>, ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT begin_s, length_s, cause FROM gaps WHERE evening = ?1 ORDER BY begin_s",
        )?;
        let gaps = query.query_map([evening], |row| {
            Ok(Gap {
                begin_s: row.get(0)?,
                length_s: row.get(1)?,
                cause: GapCause::from_word(&row.get::<_, String>(2)?),
            })
        })?;
        Ok(gaps.collect::<Result<_, _>>()?)
    }

    fn clock_steps(&self, evening: i64) -> Result<Vec<ClockStep>, ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT at_s, by_s FROM clock_steps WHERE evening = ?1 ORDER BY at_s",
        )?;
        let steps = query.query_map([evening], |row| {
            let (at_s, by_s) = (row.get(0)?, row.get(1)?);
            Ok(ClockStep { at_s, by_s })
        })?;
        Ok(steps.collect::<Result<_, _>>()?)
    }

    fn readings(&self, evening: i64) -> Result<Vec<Reading>, ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT id, made_ms, receiver, settings, live, whole, finished, heard_s, characters,
                    doubtful, (SELECT count(*) FROM signals WHERE reading = readings.id), changed,
                    copied_s, again_from_s, corrects, certainty
             FROM readings WHERE evening = ?1 ORDER BY id",
        )?;
        let readings = query.query_map([evening], reading)?;
        Ok(readings.collect::<Result<_, _>>()?)
    }

    fn best(&self, evening: &KeptEvening) -> Result<usize, ShelfError> {
        let mut query = self
            .archive
            .prepare_cached("SELECT reading FROM best_readings WHERE evening = ?1")?;
        let best: Option<i64> = query.query_row([evening.id], |row| row.get(0)).ok();
        let place = evening.readings.iter().position(|r| Some(r.id) == best);
        Ok(place.unwrap_or(0))
    }

    /// The sound files of an evening that are there, in order, each with its path.
    pub fn sound(&self, evening: i64) -> Result<Vec<(Segment, PathBuf)>, ShelfError> {
        let mut query = self.archive.prepare_cached(
            "SELECT s.number, s.file, s.begin_s, s.rate, s.samples, e.folder
             FROM segments s JOIN evenings e ON e.id = s.evening
             WHERE s.evening = ?1 AND s.removed_ms IS NULL ORDER BY s.begin_s, s.number",
        )?;
        let files = query.query_map([evening], |row| {
            let file: String = row.get(1)?;
            // A name that leads elsewhere is no file of ours.
            let path = folder::inside(&self.place, &row.get::<_, String>(5)?, &file);
            let segment = Segment {
                number: row.get(0)?,
                file,
                begin_s: row.get(2)?,
                rate: row.get(3)?,
                samples: row.get::<_, i64>(4)? as u64,
            };
            Ok(path.map(|path| (segment, path)))
        })?;
        let files: Vec<_> = files.collect::<Result<_, _>>()?;
        let there = |(_, path): &(Segment, PathBuf)| folder::is_file(path);
        Ok(files.into_iter().flatten().filter(there).collect())
    }
}

fn evening(id: i64, row: &Row) -> rusqlite::Result<KeptEvening> {
    let time = |ms| Timestamp::from_millisecond(ms).unwrap_or_default();
    let zone = zone_named(&row.get::<_, String>(2)?);
    Ok(KeptEvening {
        id,
        station: StationId(row.get::<_, i64>(6)? as u64),
        number: row.get(7)?,
        names: Vec::new(),
        begin: time(row.get(0)?).to_zoned_datetime(zone),
        end: row.get::<_, Option<i64>>(1)?.map(time),
        input: row.get(3)?,
        settings: json(&row.get::<_, String>(4)?),
        sound_s: 0.0,
        sound_bytes: 0,
        removed_s: 0.0,
        gaps: Vec::new(),
        clock_steps: Vec::new(),
        teaches: row.get(5)?,
        readings: Vec::new(),
        best: 0,
    })
}

fn reading(row: &Row) -> rusqlite::Result<Reading> {
    Ok(Reading {
        id: row.get(0)?,
        made: Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(),
        receiver: row.get(2)?,
        settings: json(&row.get::<_, String>(3)?),
        live: row.get(4)?,
        whole: row.get(5)?,
        finished: row.get(6)?,
        heard_s: row.get(7)?,
        characters: row.get::<_, i64>(8)? as u64,
        doubtful: row.get::<_, i64>(9)? as u64,
        signals: row.get::<_, i64>(10)? as u64,
        changed: row.get::<_, Option<i64>>(11)?.map(|count| count as u64),
        copied_s: row.get(12)?,
        again_from_s: row.get(13)?,
        corrects: row.get(14)?,
        certainty: row.get(15)?,
    })
}

fn json(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap_or_default()
}
