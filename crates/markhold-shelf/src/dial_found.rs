//! What was found of the receiver's dial, kept in the archive.

use super::{Shelf, ShelfError};
use jiff::Timestamp;
use markhold_skeds::learned::{Found, FoundEvening};
use rusqlite::params;

/// Evenings that are looked at, on all bands.
const MOST: i64 = 200;

impl Shelf {
    /// Keeps an error of the dial that was found at `at`. What belongs to one evening has one `night`.
    pub fn dial_was_found(
        &mut self,
        (at, night): (Timestamp, &str),
        band: u32,
        found: Found,
    ) -> Result<(), ShelfError> {
        self.archive().execute(
            "INSERT INTO dial_found (at_ms, night, band, minutes_on, reads_high_hz)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            params![
                at.as_millisecond(),
                night,
                band,
                found.minutes_on,
                found.reads_high_hz
            ],
        )?;
        Ok(())
    }

    /// All that was found on the latest evenings, the latest last.
    pub fn dial_found(&self) -> Result<Vec<FoundEvening>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT f.night, f.band, f.minutes_on, f.reads_high_hz FROM dial_found f
             JOIN (SELECT night, band, max(at_ms) AS last_ms FROM dial_found
                   GROUP BY night, band ORDER BY last_ms DESC LIMIT ?1) n
               ON n.night = f.night AND n.band = f.band
             ORDER BY n.last_ms, f.night, f.band, f.at_ms, f.id",
        )?;
        let mut rows = query.query([MOST])?;
        let mut evenings: Vec<(String, FoundEvening)> = Vec::new();
        while let Some(row) = rows.next()? {
            let (night, band): (String, u32) = (row.get(0)?, row.get(1)?);
            let found = Found {
                minutes_on: row.get(2)?,
                reads_high_hz: row.get(3)?,
            };
            match evenings.last_mut() {
                Some((known, evening)) if *known == night && evening.band == band => {
                    evening.found.push(found);
                }
                _ => evenings.push((
                    night,
                    FoundEvening {
                        band,
                        found: vec![found],
                    },
                )),
            }
        }
        Ok(evenings.into_iter().map(|(_, evening)| evening).collect())
    }
}
