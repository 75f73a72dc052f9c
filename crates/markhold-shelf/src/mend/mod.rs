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

/// How often it is tried by itself. What fails so often fails always.
const TRIES: i64 = 3;

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
    count_try(&shelf, due.reading, 1)?;
    let settings = settings(&shelf, &due)?;
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
        count_try(&shelf, due.reading, -1)?;
        return Ok(None);
    }
    let joined = match from_s > 0.0 {
        true => join(
            &old(&shelf, due.reading)?,
            heard.events,
            due.copied_s,
            settings.all,
        ),
        false => Joined {
            events: heard.events,
            seam_s: 0.0,
        },
    };
    write(&mut shelf, &due, joined, heard.until_s, &settings)?;
    let length_s = heard.until_s - due.copied_s;
    Ok(Some(Mended {
        evening: due.evening,
        length_s,
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
    let mut rows = query.query(params![TRIES, LEAST_S])?;
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

fn count_try(shelf: &Shelf, reading: i64, by: i64) -> Result<(), ShelfError> {
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
