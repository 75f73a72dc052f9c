//! What a person does with readings: corrects one by hand, chooses which one stands.
//!
//! A correction is one more reading, marked as a person's; the receiver's stay as they are. All
//! corrections of one reading are in one reading.

mod corrected;

use super::details::{pack, unpack};
use super::rows::{IDS_PER_MS, first_id};
use super::{KeptEvening, Reading, Shelf, ShelfError};
use corrected::{Printed, corrected};
use markhold_event::SignalId;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};

impl Shelf {
    /// Lets a reading of an evening stand, counted from 1, or with `None` the one that the shelf
    /// would choose.
    ///
    /// Errors: no such evening or reading; it is being kept.
    pub fn choose(&mut self, evening: i64, reading: Option<usize>) -> Result<(), ShelfError> {
        let about = self.ended(evening)?;
        let chosen = reading.map(|asked| of(&about, asked)).transpose()?;
        self.archive().execute(
            "UPDATE evenings SET chosen = ?2 WHERE id = ?1",
            params![evening, chosen.map(|reading| reading.id)],
        )?;
        Ok(())
    }

    /// Writes another text in the place of a line: the one of this signal that begins there, s from
    /// the first sample of the evening. Returns the name in the archive of the reading that has it,
    /// which then stands; it is the one corrected, counted from 1, if that was a person's already.
    ///
    /// Errors: no such evening, reading or line; a character that no five-unit machine prints; it
    /// is being kept.
    pub fn correct(
        &mut self,
        evening: i64,
        reading: usize,
        (signal, begin_s): (u32, f64),
        text: &str,
    ) -> Result<i64, ShelfError> {
        let about = self.ended(evening)?;
        let from = of(&about, reading)?;
        let printed = Printed::of(text)?;
        let (from, by_hand) = (from.id, from.corrects.is_some());
        let begin_ms = about.begin.timestamp().as_millisecond();
        let change = self
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let to = match by_hand {
            true => from,
            false => copied(&change, from, begin_ms)?,
        };
        write_line(&change, to, (signal, begin_s), &printed)?;
        sum_up(&change, to)?;
        change.execute(
            "UPDATE evenings SET chosen = ?2 WHERE id = ?1",
            [evening, to],
        )?;
        change.commit()?;
        Ok(to)
    }

    fn ended(&self, evening: i64) -> Result<KeptEvening, ShelfError> {
        let about = self.evening(evening)?;
        match about.end {
            Some(_) => Ok(about),
            None => Err(ShelfError::BeingKept { evening }),
        }
    }
}

fn of(evening: &KeptEvening, asked: usize) -> Result<&Reading, ShelfError> {
    let place = asked.checked_sub(1);
    let found = place.and_then(|at| evening.readings.get(at));
    found.ok_or(ShelfError::NoReading {
        evening: evening.id,
        asked,
        count: evening.readings.len(),
    })
}

/// A person's reading that says the same as this one.
fn copied(change: &Transaction, reading: i64, begin_ms: i64) -> Result<i64, ShelfError> {
    change.execute(
        "INSERT INTO readings (evening, made_ms, receiver, settings, live, whole, finished, heard_s,
                               characters, doubtful, changed, copied_s, corrects)
         SELECT evening, ?2, receiver, settings, 0, whole, 1, heard_s, characters, doubtful,
                changed, copied_s, id FROM readings WHERE id = ?1",
        params![reading, jiff::Timestamp::now().as_millisecond()],
    )?;
    let to = change.last_insert_rowid();
    change.execute(
        "INSERT INTO signals (reading, number) SELECT ?2, number FROM signals WHERE reading = ?1",
        [reading, to],
    )?;
    change.execute(
        "INSERT INTO measurements
         SELECT n.id, m.final, m.begin_s, m.until_s, m.mark_hz, m.space_hz, m.shift_hz,
                m.usual_shift_hz, m.rate_baud, m.usual_rate_baud, m.mark_is_higher, m.stop_units,
                m.es_n0_db, m.snr_3khz_db, m.drift_hz, m.drift_hz_per_min
         FROM measurements m JOIN signals s ON s.id = m.signal
             JOIN signals n ON n.number = s.number AND n.reading = ?2
         WHERE s.reading = ?1",
        [reading, to],
    )?;
    copy_lines(change, [reading, to], begin_ms)?;
    Ok(to)
}

fn copy_lines(change: &Transaction, [from, to]: [i64; 2], begin_ms: i64) -> Result<(), ShelfError> {
    let mut lines = change.prepare(
        "SELECT l.id, n.id, l.begin_s FROM lines l JOIN signals s ON s.id = l.signal
             JOIN signals n ON n.number = s.number AND n.reading = ?2
         WHERE s.reading = ?1 ORDER BY l.begin_s, l.id",
    )?;
    let mut rows = lines.query([from, to])?;
    while let Some(row) = rows.next()? {
        let (line, signal): (i64, i64) = (row.get(0)?, row.get(1)?);
        let id = first_id(begin_ms + (row.get::<_, f64>(2)? * 1e3) as i64);
        change
            .prepare_cached(
                "INSERT INTO lines (id, signal, number, begin_s, end_s, text, characters, doubtful,
                                    changed, closed, details)
                 SELECT (SELECT CASE WHEN max(id) + 1 = ?4 THEN NULL ELSE coalesce(max(id) + 1, ?3) END
                         FROM lines WHERE id >= ?3 AND id < ?4),
                        ?2, number, begin_s, end_s, text, characters, doubtful, changed, 1, details
                 FROM lines WHERE id = ?1",
            )?
            .execute(params![line, signal, id, id.saturating_add(IDS_PER_MS)])?;
    }
    Ok(())
}

/// The line in its new wording; the index of words follows.
fn write_line(
    change: &Transaction,
    reading: i64,
    (signal, begin_s): (u32, f64),
    printed: &Printed,
) -> Result<(), ShelfError> {
    // The page was told the place to 0.1 ms.
    let found: Option<(i64, String, Vec<u8>)> = change
        .query_row(
            "SELECT l.id, l.text, l.details FROM lines l JOIN signals s ON s.id = l.signal
             WHERE s.reading = ?1 AND s.number = ?2 AND abs(l.begin_s - ?3) < 0.001",
            params![reading, signal, begin_s],
            |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
        )
        .optional()?;
    let (line, old, details) = found.ok_or(ShelfError::NoLine { at_s: begin_s })?;
    let entries = corrected(unpack(&details, SignalId(signal))?, printed);
    let characters = entries.iter().filter(|e| e.is_decided());
    let doubtful = characters.clone().filter(|e| e.character().doubt.is_some());
    let end_s = characters
        .clone()
        .next_back()
        .map(|e| e.character().start_s);
    let counts = (characters.clone().count() as i64, doubtful.count() as i64);
    change.execute(
        "INSERT INTO words (words, rowid, text) VALUES ('delete', ?1, ?2)",
        params![line, old],
    )?;
    change.execute(
        "UPDATE lines SET text = ?2, characters = ?3, doubtful = ?4, details = ?5,
                          end_s = coalesce(?6, end_s) WHERE id = ?1",
        params![
            line,
            printed.text,
            counts.0,
            counts.1,
            pack(&entries),
            end_s
        ],
    )?;
    change.execute(
        "INSERT INTO words (rowid, text) VALUES (?1, ?2)",
        params![line, printed.text],
    )?;
    Ok(())
}

/// What a reading's lines hold together.
fn sum_up(change: &Transaction, reading: i64) -> rusqlite::Result<()> {
    change.execute(
        "UPDATE readings SET (characters, doubtful) =
             (SELECT coalesce(sum(l.characters), 0), coalesce(sum(l.doubtful), 0)
              FROM lines l JOIN signals s ON s.id = l.signal WHERE s.reading = ?1)
         WHERE id = ?1",
        [reading],
    )?;
    Ok(())
}
