//! What was not copied when an evening ended is copied again from its sound.
//!
//! ```text
//!   live copy   ................................|            |   crash
//!   kept sound  ------------------------------------------------
//!   heard again                  ~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~
//!                                lead-in        seam
//!   joined      ................................================
//! ```
//!
//! The receiver hears the last minute before the live copy broke off once more, so that it
//! knows the signals again (`join`).
//! The joined reading stands beside the live one, which stays.

mod join;

use super::again::{Taker, Walk};
use super::earlier::Earlier;
use super::ledger::{Ledger, NewReading};
use super::notes;
use super::words::is_busy;
use super::{Segment, Shelf, ShelfError, settings_from_json, settings_to_json};
use join::{Joined, join};
use markhold_event::Event;
use markhold_receive::Settings;
use rusqlite::{TransactionBehavior, params};
use std::path::{Path, PathBuf};

/// Sound that is heard once more before the place where the copy broke off, s. A signal is found
/// within some seconds, a weak one within half a minute.
const LEAD_S: f64 = 60.0;

/// What need not be copied again, s: less than a few characters.
const LEAST_S: f64 = 0.5;

/// How often it is begun by itself: a computer switched off in the middle says nothing of the
/// evening, yet sound that ends the program each time must not be tried for ever.
const MOST_TRIES: i64 = 30;

/// What a try counts that failed. What fails three times fails always.
const FAILED: i64 = 10;

/// Events that go into the archive in one change: other writers are not to wait for long.
const BATCH: usize = 2_000;

/// What was copied again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Mended {
    pub(super) evening: i64,
    /// Length of the sound that had not been copied, s.
    pub(super) length_s: f64,
}

/// A live reading that breaks off before its sound does.
struct Due {
    evening: i64,
    reading: i64,
    copied_s: f64,
    files: Vec<(Segment, PathBuf)>,
}

/// Copies again what is due of the latest evening that has something due. `None` if nothing is,
/// or if it was to `stop`.
///
/// Errors: the archive; settings that cannot work.
pub(super) fn next(place: &Path, stop: &dyn Fn() -> bool) -> Result<Option<Mended>, ShelfError> {
    let mut shelf = Shelf::make(place)?;
    let Some(due) = due(&shelf)? else {
        return Ok(None);
    };
    // Before it begins: it may not come back.
    count(&shelf, due.reading, 1)?;
    let mended = mend(&mut shelf, &due, stop);
    match &mended {
        Ok(Some(_)) => {}
        Ok(None) => count(&shelf, due.reading, -1)?,
        Err(ShelfError::Database(error)) if is_busy(error) => {}
        Err(_) => count(&shelf, due.reading, FAILED - 1)?,
    }
    mended
}

fn mend(
    shelf: &mut Shelf,
    due: &Due,
    stop: &dyn Fn() -> bool,
) -> Result<Option<Mended>, ShelfError> {
    let settings = settings(shelf, due)?;
    let mut heard = Heard::default();
    let from_s = (due.copied_s - LEAD_S).max(0.0);
    // All signals, so that the one that was copied is among them.
    let wide = Settings {
        all: settings.all || from_s > 0.0,
        unlikely: true,
        ..settings.clone()
    };
    let walk = Walk::new(&mut heard, &wide, from_s, stop);
    if !walk.hear(&due.files)? {
        return Ok(None);
    }
    let joined = match from_s > 0.0 {
        true => {
            let old = old(shelf, due.reading)?;
            join(&old, heard.events, due.copied_s, settings.all)
        }
        false => Joined {
            events: heard.events,
            seam_s: 0.0,
        },
    };
    write(shelf, due, joined, heard.until_s, &settings)?;
    Ok(Some(Mended {
        evening: due.evening,
        length_s: heard.until_s - due.copied_s,
    }))
}

/// The latest evening whose live copy breaks off and whose sound is there from then on.
fn due(shelf: &Shelf) -> Result<Option<Due>, ShelfError> {
    let mut query = shelf.archive().prepare(
        "SELECT e.id, r.id, r.copied_s FROM evenings e JOIN readings r ON r.evening = e.id
         WHERE r.live AND r.finished AND e.end_ms IS NOT NULL AND r.tries < ?1
             AND r.heard_s - r.copied_s > ?2
             AND NOT EXISTS (SELECT 1 FROM readings o
                             WHERE o.evening = e.id AND NOT o.live AND o.finished AND o.whole)
         ORDER BY e.id DESC",
    )?;
    let mut rows = query.query(params![MOST_TRIES, LEAST_S])?;
    while let Some(row) = rows.next()? {
        let (evening, reading, copied_s) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let files = shelf.sound(evening)?;
        if files
            .iter()
            .any(|(segment, _)| segment.end_s() > copied_s + LEAST_S)
        {
            return Ok(Some(Due {
                evening,
                reading,
                copied_s,
                files,
            }));
        }
    }
    Ok(None)
}

fn count(shelf: &Shelf, reading: i64, by: i64) -> Result<(), ShelfError> {
    let count = "UPDATE readings SET tries = tries + ?2 WHERE id = ?1";
    shelf.archive().execute(count, params![reading, by])?;
    Ok(())
}

/// How the receiver was set when the evening broke off.
fn settings(shelf: &Shelf, due: &Due) -> Result<Settings, ShelfError> {
    let folder = due.files.first().and_then(|(_, path)| path.parent());
    let noted = folder.and_then(|folder| notes::read(folder).last_settings);
    let value = match noted {
        Some(value) => value,
        None => shelf.evening(due.evening)?.settings,
    };
    Ok(settings_from_json(&value))
}

fn old(shelf: &Shelf, reading: i64) -> Result<Vec<Event>, ShelfError> {
    let mut events = Vec::new();
    shelf.events(reading, &mut |event| events.push(event))?;
    Ok(events)
}

/// What the receiver reports when it hears the sound again, in the evening's time, each signal
/// under a name of its own.
#[derive(Default)]
struct Heard {
    events: Vec<Event>,
    until_s: f64,
    origin_s: f64,
    /// Names given out by receivers before this one.
    names: u32,
    last: u32,
}

impl Taker for Heard {
    fn restart(&mut self, origin_s: f64) {
        (self.origin_s, self.names) = (origin_s, self.last);
    }

    fn heard(&mut self, until_s: f64) {
        self.until_s = until_s;
    }

    fn event(&mut self, event: &Event) {
        let event = event.clone().placed(self.origin_s, self.names);
        self.last = self.last.max(event.signal().0);
        self.events.push(event);
    }
}

/// Writes a reading; it counts as one of the whole evening, since it has all that the live one
/// had.
fn write(
    shelf: &mut Shelf,
    due: &Due,
    joined: Joined,
    until_s: f64,
    settings: &Settings,
) -> Result<(), ShelfError> {
    let about = shelf.evening(due.evening)?;
    let live = about
        .readings
        .iter()
        .find(|reading| reading.id == due.reading);
    let earlier = match live {
        Some(reading) => Earlier::of(shelf, reading)?,
        None => Earlier::default(),
    };
    let begin_ms = about.begin.timestamp().as_millisecond();
    let described = settings_to_json(settings);
    let new = NewReading {
        evening: due.evening,
        begin_ms,
        settings: &described,
        live: false,
        earlier,
        again_from_s: Some(joined.seam_s),
    };
    let mut ledger = Ledger::begin(shelf.archive(), new)?;
    ledger.heard(until_s);
    ledger.copied(until_s);
    for batch in joined.events.chunks(BATCH) {
        batch.iter().for_each(|event| ledger.event(event));
        let change = shelf
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        ledger.save(&change)?;
        change.commit()?;
        ledger.saved();
    }
    let change = shelf
        .archive_mut()
        .transaction_with_behavior(TransactionBehavior::Immediate)?;
    ledger.finish(&change, true)?;
    Ok(change.commit()?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Evening, KeepSettings, Keeper};
    use serde_json::json;

    /// An evening that no receiver copied.
    fn uncopied(settings: serde_json::Value) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let evening = Evening {
            input: "line".into(),
            rate: 8000,
            begin: "2026-03-21T19:30:00Z[UTC]".parse().unwrap(),
            settings,
        };
        let keep = KeepSettings {
            care: false,
            ..KeepSettings::default()
        };
        let keeper = Keeper::begin(folder.path(), evening, keep).unwrap();
        keeper.sound(&[0.1; 16_000]);
        keeper.finish().unwrap();
        folder
    }

    fn tries(place: &Path) -> i64 {
        let shelf = Shelf::open(place).unwrap();
        let tries = "SELECT tries FROM readings WHERE live";
        shelf
            .archive()
            .query_row(tries, [], |row| row.get(0))
            .unwrap()
    }

    #[test]
    fn to_be_told_to_stop_counts_nothing_and_three_failures_end_it() {
        let folder = uncopied(json!({}));
        assert_eq!(next(folder.path(), &|| true).unwrap(), None);
        assert_eq!(tries(folder.path()), 0);
        // Settings that no receiver can work with.
        let folder = uncopied(json!({ "rate_baud": 1e6 }));
        let place = folder.path();
        for failed in 1..=3 {
            assert!(next(place, &|| false).is_err(), "{failed}");
            assert_eq!(tries(place), failed * FAILED);
        }
        assert_eq!(next(place, &|| false).unwrap(), None);
    }
}
