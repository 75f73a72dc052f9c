//! Rows of the archive's tables, as they are written. Rows go by natural names (file by
//! number, signal by number, line by number), so writing twice changes nothing.

use super::details::pack;
use super::evening::{ClockStep, zone_name};
use super::line::Line;
use super::recorder::Segment;
use super::{Evening, Gap};
use markhold_event::{Sense, SentLine, Signal, StationId};
use rusqlite::{Connection, Transaction, named_params, params};
use std::path::Path;

/// Enters an evening that begins; returns its name, which is `number` if that is free.
pub(super) fn enter(
    change: &Transaction,
    evening: &Evening,
    number: Option<i64>,
    folder: &Path,
) -> rusqlite::Result<i64> {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let begin = evening.begin.timestamp();
    // The folder was made for this evening: an older one of that name is long gone.
    change.execute(
        "UPDATE evenings SET folder = folder || '-gone-' || id WHERE folder = ?1",
        [&name],
    )?;
    change.execute(
        "INSERT INTO evenings (id, begin_ms, zone, input, settings, folder)
         VALUES ((SELECT ?1 WHERE ?1 > 0 AND NOT EXISTS (SELECT 1 FROM evenings WHERE id = ?1)),
                 ?2, ?3, ?4, ?5, ?6)",
        params![
            number,
            begin.as_millisecond(),
            zone_name(evening.begin.time_zone(), begin),
            evening.input,
            evening.settings.to_string(),
            name,
        ],
    )?;
    Ok(change.last_insert_rowid())
}

/// Whose archive it is.
pub(super) fn own_station(archive: &Connection) -> rusqlite::Result<StationId> {
    let mut query = archive.prepare_cached("SELECT name FROM station")?;
    let name: i64 = query.query_row([], |row| row.get(0))?;
    Ok(StationId(name as u64))
}

/// Enters whose evening it is, and its number there, where that is another station than the
/// archive's.
pub(super) fn set_station(
    change: &Transaction,
    evening: i64,
    (station, number): (StationId, i64),
) -> rusqlite::Result<()> {
    if station != own_station(change)? {
        change.execute(
            "UPDATE evenings SET station = ?2, station_number = ?3 WHERE id = ?1",
            params![evening, station.0 as i64, number],
        )?;
    }
    Ok(())
}

/// Enters where an evening's sound is, if that changed.
pub(super) fn set_folder(change: &Transaction, evening: i64, folder: &str) -> rusqlite::Result<()> {
    change
        .prepare_cached("UPDATE evenings SET folder = ?2 WHERE id = ?1 AND folder <> ?2")?
        .execute(params![evening, folder])?;
    Ok(())
}

/// Enters sound files, or what they hold by now.
pub(super) fn save_segments<'a>(
    change: &Transaction,
    evening: i64,
    segments: impl IntoIterator<Item = &'a Segment>,
) -> rusqlite::Result<()> {
    for segment in segments {
        change
            .prepare_cached(
                "INSERT INTO segments (evening, number, file, begin_s, rate, samples, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
                 ON CONFLICT (evening, number) DO UPDATE SET
                     samples = excluded.samples, bytes = excluded.bytes",
            )?
            .execute(params![
                evening,
                segment.number,
                segment.file,
                segment.begin_s,
                segment.rate,
                segment.samples as i64,
                segment.bytes() as i64,
            ])?;
    }
    Ok(())
}

/// Enters what is missing.
pub(super) fn save_gaps(change: &Transaction, evening: i64, gaps: &[Gap]) -> rusqlite::Result<()> {
    for gap in gaps {
        change
            .prepare_cached(
                "INSERT OR REPLACE INTO gaps (evening, begin_s, length_s, cause)
                 VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![
                evening,
                gap.begin_s,
                gap.length_s,
                gap.cause.word()
            ])?;
    }
    Ok(())
}

/// Enters when the clock was set.
pub(super) fn save_steps(
    change: &Transaction,
    evening: i64,
    steps: &[ClockStep],
) -> rusqlite::Result<()> {
    for step in steps {
        change
            .prepare_cached(
                "INSERT OR IGNORE INTO clock_steps (evening, at_s, by_s) VALUES (?1, ?2, ?3)",
            )?
            .execute(params![evening, step.at_s, step.by_s])?;
    }
    Ok(())
}

/// Enters what was sent from here, or what its lines hold by now.
pub(super) fn save_sent(
    change: &Transaction,
    evening: i64,
    lines: &[SentLine],
) -> rusqlite::Result<()> {
    if lines.is_empty() {
        return Ok(());
    }
    let begin = "SELECT begin_ms FROM evenings WHERE id = ?1";
    let begin_ms: i64 = change.query_row(begin, [evening], |row| row.get(0))?;
    for line in lines {
        let at_s = finite(line.at_s);
        let id = first_id(begin_ms + (at_s * 1e3) as i64);
        change
            .prepare_cached(
                "INSERT INTO sent (id, evening, number, at_s, text)
                 VALUES ((SELECT coalesce(max(id) + 1, ?1) FROM sent WHERE id >= ?1 AND id < ?2),
                         ?3, ?4, ?5, ?6)
                 ON CONFLICT (evening, number) DO UPDATE SET text = excluded.text
                 WHERE text <> excluded.text",
            )?
            .execute(params![
                id,
                id.saturating_add(IDS_PER_MS),
                evening,
                line.number as i64,
                at_s,
                line.text,
            ])?;
    }
    Ok(())
}

/// Adds inputs that came later to the evening's.
pub(super) fn save_inputs(
    change: &Transaction,
    evening: i64,
    inputs: &[String],
) -> rusqlite::Result<()> {
    for input in inputs {
        change.execute(
            "UPDATE evenings SET input = input || ', ' || ?2
             WHERE id = ?1 AND instr(input, ?2) = 0",
            params![evening, input],
        )?;
    }
    Ok(())
}

/// Enters what was measured of a signal when it was found, or at its end.
pub(super) fn save_measured(
    change: &Transaction,
    reading: i64,
    number: u32,
    last: bool,
    signal: &Signal,
) -> rusqlite::Result<()> {
    let row = signal_row(change, reading, number)?;
    change
        .prepare_cached(
            "INSERT OR REPLACE INTO measurements
             VALUES (:signal, :final, :begin, :until, :mark, :space, :shift, :usual_shift,
                     :rate, :usual_rate, :higher, :stop, :es_n0, :snr, :drift, :drift_per_min)",
        )?
        .execute(named_params! {
            ":signal": row,
            ":final": last,
            ":begin": signal.begin_s,
            ":until": signal.until_s,
            ":mark": signal.mark_hz,
            ":space": signal.space_hz,
            ":shift": signal.shift_hz,
            ":usual_shift": signal.usual_shift_hz,
            ":rate": signal.rate_baud,
            ":usual_rate": signal.usual_rate_baud,
            ":higher": signal.sense == Sense::HigherTone,
            ":stop": signal.stop_units,
            ":es_n0": signal.es_n0_db,
            ":snr": signal.snr_3khz_db,
            ":drift": signal.drift_hz,
            ":drift_per_min": signal.drift_hz_per_min,
        })?;
    Ok(())
}

/// Lines of one millisecond that keep the order, in all readings; more go to the end.
pub(super) const IDS_PER_MS: i64 = 1024;

/// The least name of a line that was heard then. Names of lines are in order of time, so
/// that a search finds the latest first without looking at all.
pub(super) fn first_id(heard_ms: i64) -> i64 {
    heard_ms.saturating_mul(IDS_PER_MS)
}

/// Enters a line, or what it holds by now; a closed one stays as it is.
pub(super) fn save_line(
    change: &Transaction,
    signal: i64,
    begin_ms: i64,
    line: &Line,
) -> rusqlite::Result<()> {
    let begin_s = finite(line.characters().next().map_or(0.0, |c| c.start_s));
    let end_s = line.characters().next_back().map_or(begin_s, |c| c.start_s);
    let id = first_id(begin_ms + (begin_s * 1e3) as i64);
    change
        .prepare_cached(
            "INSERT INTO lines (id, signal, number, begin_s, end_s, text, characters, doubtful,
                                changed, closed, details)
             VALUES ((SELECT CASE WHEN max(id) + 1 = :next THEN NULL
                                  ELSE coalesce(max(id) + 1, :id) END
                      FROM lines WHERE id >= :id AND id < :next),
                     :signal, :number, :begin, :end, :text, :characters, :doubtful, :changed,
                     :closed, :details)
             ON CONFLICT (signal, number) DO UPDATE SET
                 end_s = excluded.end_s, text = excluded.text,
                 characters = excluded.characters, doubtful = excluded.doubtful,
                 changed = excluded.changed, closed = excluded.closed, details = excluded.details
             WHERE NOT closed",
        )?
        .execute(named_params! {
            ":id": id,
            ":next": id.saturating_add(IDS_PER_MS),
            ":signal": signal,
            ":number": line.number,
            ":begin": begin_s,
            ":end": finite(end_s),
            ":text": line.text,
            ":characters": line.count as i64,
            ":doubtful": line.doubtful,
            ":changed": line.changed,
            ":closed": line.closed,
            ":details": pack(&line.entries),
        })?;
    Ok(())
}

/// The row of a signal, which is made if it is missing.
pub(super) fn signal_row(change: &Transaction, reading: i64, number: u32) -> rusqlite::Result<i64> {
    change
        .prepare_cached("INSERT OR IGNORE INTO signals (reading, number) VALUES (?1, ?2)")?
        .execute(params![reading, number])?;
    change
        .prepare_cached("SELECT id FROM signals WHERE reading = ?1 AND number = ?2")?
        .query_row(params![reading, number], |row| row.get(0))
}

/// The database holds no time that is no number.
fn finite(seconds: f64) -> f64 {
    if seconds.is_finite() { seconds } else { 0.0 }
}
