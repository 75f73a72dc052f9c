//! How much a reading knows by its own account: which of several stands.
//!
//! Every character counts for the probability that it is right less that it is wrong. So a
//! reading that has more sure copy is the better one, also with more doubt besides; what is as
//! likely wrong as right adds nothing, and noise typed as copy takes away. The signal alone counts:
//! what language is sure of besides tells nothing of the copy, and whoever asks for a reading
//! without it is to see that.

use super::details::unpack;
use super::{Entry, ShelfError};
use markhold_event::{Character, SignalId};
use rusqlite::{Connection, params};

/// What a character adds, -1 to 1.
pub(super) fn of(character: &Character) -> f64 {
    2.0 * f64::from(character.by_signal().probability) - 1.0
}

/// Counts it for the finished readings of an evening, or of all, that lack it: their layout did
/// not keep it, or they broke off.
pub(super) fn fill(archive: &Connection, evening: Option<i64>) -> Result<(), ShelfError> {
    let mut query = archive.prepare(
        "SELECT id FROM readings WHERE finished AND corrects IS NULL AND certainty IS NULL
             AND evening = coalesce(?1, evening)",
    )?;
    let readings: Vec<i64> = query
        .query_map([evening], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for reading in readings {
        let certainty = of_reading(archive, reading)?;
        archive.execute(
            "UPDATE readings SET certainty = ?2 WHERE id = ?1",
            params![reading, certainty],
        )?;
    }
    Ok(())
}

/// What the lines of a reading add up to; damaged ones know nothing.
fn of_reading(archive: &Connection, reading: i64) -> rusqlite::Result<f64> {
    let mut query = archive.prepare_cached(
        "SELECT l.details FROM lines l JOIN signals s ON s.id = l.signal WHERE s.reading = ?1",
    )?;
    let lines = query.query_map([reading], |row| row.get::<_, Vec<u8>>(0))?;
    let mut sum = 0.0;
    for details in lines {
        let entries = unpack(&details?, SignalId(1)).unwrap_or_default();
        let decided = entries.iter().filter(|entry| entry.is_decided());
        sum += decided.map(Entry::character).map(of).sum::<f64>();
    }
    Ok(sum)
}
