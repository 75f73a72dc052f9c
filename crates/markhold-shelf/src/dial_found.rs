//! What was found of the receiver's dial, and where it stands, kept in the archive.

use super::{Shelf, ShelfError};
use jiff::{SignedDuration, Timestamp};
use markhold_skeds::learned::{Found, FoundEvening, Stands, ToldBy};
use rusqlite::{OptionalExtension, Row, params};

/// Evenings that are looked at, on all bands.
const MOST: i64 = 200;

/// Where a dial stood so long ago is of no use: what was learned of it is kept.
const FORGOTTEN: SignedDuration = SignedDuration::from_hours(31 * 24);

/// A run of a sked: its number, and when it was due.
type RunName = (i64, Timestamp);

impl Shelf {
    /// Keeps an error of the dial that was found at `at`. What belongs to one evening has one
    /// `night`. What a `run` told by itself counts once that was kept.
    pub fn dial_was_found(
        &mut self,
        (at, night): (Timestamp, &str),
        (band, found): (u32, Found),
        run: Option<RunName>,
    ) -> Result<(), ShelfError> {
        self.archive().execute(
            "INSERT INTO dial_found
                 (at_ms, night, band, minutes_on, reads_high_hz, sked, begins_ms)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            params![
                at.as_millisecond(),
                night,
                band,
                found.minutes_on,
                found.reads_high_hz,
                run.map(|(sked, _)| sked),
                run.map(|(_, begins)| begins.as_millisecond()),
            ],
        )?;
        Ok(())
    }

    /// All that was found on the latest evenings, the latest last.
    pub fn dial_found(&self) -> Result<Vec<FoundEvening>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "WITH f AS (
                 SELECT * FROM dial_found d WHERE d.sked IS NULL OR EXISTS
                     (SELECT 1 FROM sked_runs r
                      WHERE r.sked = d.sked AND r.begins_ms = d.begins_ms AND r.state = 'kept'))
             SELECT f.night, f.band, f.minutes_on, f.reads_high_hz FROM f
             JOIN (SELECT night, band, max(at_ms) AS last_ms FROM f
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

    /// The band that a run was heard on, as the dial told it; `None` where that was not known.
    pub fn band_of(&self, sked: i64, begins: Timestamp) -> Result<Option<u32>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT band FROM dial_found WHERE sked = ?1 AND begins_ms = ?2
             GROUP BY band ORDER BY count(*) DESC, band LIMIT 1",
        )?;
        let key = (sked, begins.as_millisecond());
        Ok(query.query_row(key, |row| row.get(0)).optional()?)
    }

    /// Keeps where the dial stands from `stands.at` on.
    pub fn dial_was_set(&mut self, stands: &Stands) -> Result<(), ShelfError> {
        self.archive().execute(
            "INSERT OR REPLACE INTO dial_stands (at_ms, khz, on_ms, by) VALUES (?1, ?2, ?3, ?4)",
            params![
                stands.at.as_millisecond(),
                stands.khz,
                stands.on.map(Timestamp::as_millisecond),
                word(stands.by),
            ],
        )?;
        let forgotten = stands
            .at
            .saturating_sub(FORGOTTEN)
            .unwrap_or(Timestamp::MIN);
        self.archive().execute(
            "DELETE FROM dial_stands WHERE at_ms < ?1",
            [forgotten.as_millisecond()],
        )?;
        Ok(())
    }

    /// Where the dial stands now; `None` where that was not told this evening.
    pub fn dial_stands(&self, now: Timestamp) -> Result<Option<Stands>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT at_ms, khz, on_ms, by FROM dial_stands WHERE at_ms <= ?1
             ORDER BY at_ms DESC LIMIT 1",
        )?;
        let stands = query.query_row([now.as_millisecond()], stands).optional()?;
        Ok(stands.filter(|stands| stands.holds(now)))
    }
}

fn word(by: ToldBy) -> &'static str {
    match by {
        ToldBy::Person => "person",
        ToldBy::Radio => "radio",
    }
}

fn stands(row: &Row) -> rusqlite::Result<Stands> {
    let time = |ms| Timestamp::from_millisecond(ms).unwrap_or_default();
    Ok(Stands {
        at: time(row.get(0)?),
        khz: row.get(1)?,
        on: row.get::<_, Option<i64>>(2)?.map(time),
        by: match row.get::<_, String>(3)?.as_str() {
            "radio" => ToldBy::Radio,
            _ => ToldBy::Person,
        },
    })
}
