//! Evenings copied again by any number of workers, on this computer or on others that share the
//! shelf's folder.
//!
//! ```text
//! entered -> taken by a worker, for a minute at first -> heard -> stored: done
//!              ^      |   (it says that it is at it)
//!              +------+   a worker that died says nothing: another takes it over
//! ```
//!
//! A worker gathers what it hears and stores it in one change, in which the item becomes done and
//! only if it is still its own. So each evening gets one reading, however often it was begun, and
//! a worker that dies leaves nothing behind.

use super::again::{Taker, Walk, is_whole};
use super::earlier::Earlier;
use super::ledger::{Ledger, NewReading};
use super::words::is_busy;
use super::{Shelf, ShelfError, settings_from_json, settings_to_json};
use jiff::Timestamp;
use markhold_event::Event;
use markhold_receive::Settings;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use std::cell::Cell;
use std::path::Path;
use std::time::{Duration, Instant};

/// An evening is given up when so many workers took it and none came back, as in `mend`: a worker
/// that is killed says nothing of the evening, yet sound that ends the program each time must not
/// be tried for ever.
const MOST_TRIES: i64 = 30;
/// How long a worker waits before it looks again whether one of the others has died.
const LOOK: Duration = Duration::from_millis(500);

/// A worker.
#[derive(Clone, Debug)]
pub struct Worker {
    /// Its name, unlike all others'.
    pub name: String,
    /// An evening is its own for so long from when it last said that it is at it. Clocks of
    /// several computers may differ by less than half of it.
    pub lease: Duration,
}

/// How far the work is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Evenings that nobody has taken, or whose worker has died.
    pub waiting: u64,
    /// Evenings that are being heard.
    pub at_work: u64,
    /// Evenings that have their new reading.
    pub done: u64,
    /// Evenings that were given up.
    pub given_up: u64,
}

impl Work {
    /// Evenings that are not done and not given up.
    pub fn left(&self) -> u64 {
        self.waiting + self.at_work
    }
}

/// What a worker did.
#[derive(Clone, Debug, PartialEq)]
pub enum Worked {
    /// It stored a new reading of an evening.
    Stored {
        /// The evening.
        evening: i64,
        /// The reading's name in the archive.
        reading: i64,
    },
    /// It heard an evening which another had taken over meanwhile: that one's reading counts.
    Late {
        /// The evening.
        evening: i64,
    },
    /// It gave an evening up.
    GivenUp {
        /// The evening.
        evening: i64,
        /// Why.
        why: String,
    },
}

struct Item {
    evening: i64,
    settings: Settings,
}

impl Shelf {
    /// Enters evenings to be copied again, each with the settings of its receiver. Where work is
    /// left of before, nothing is entered; else what was done before is forgotten. Returns how
    /// many were entered.
    pub fn enter_work(&mut self, evenings: &[(i64, Settings)]) -> Result<usize, ShelfError> {
        let change = self
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let left = "SELECT count(*) FROM work WHERE reading IS NULL AND why IS NULL";
        if change.query_row(left, [], |row| row.get::<_, i64>(0))? > 0 {
            return Ok(0);
        }
        change.execute("DELETE FROM work", [])?;
        for (evening, settings) in evenings {
            change.execute(
                "INSERT OR IGNORE INTO work (evening, settings) VALUES (?1, ?2)",
                params![evening, settings_to_json(settings).to_string()],
            )?;
        }
        change.commit()?;
        Ok(evenings.len())
    }

    /// How far the work is.
    pub fn work(&self) -> Result<Work, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT coalesce(sum(reading IS NULL AND why IS NULL AND coalesce(until_ms, 0) < ?1), 0),
                    coalesce(sum(reading IS NULL AND why IS NULL AND coalesce(until_ms, 0) >= ?1), 0),
                    coalesce(sum(reading IS NOT NULL), 0), coalesce(sum(why IS NOT NULL), 0)
             FROM work",
        )?;
        let count = |row: &rusqlite::Row, at| row.get::<_, i64>(at).map(|n| n as u64);
        Ok(query.query_row([now_ms()], |row| {
            Ok(Work {
                waiting: count(row, 0)?,
                at_work: count(row, 1)?,
                done: count(row, 2)?,
                given_up: count(row, 3)?,
            })
        })?)
    }

    fn take(&mut self, worker: &Worker) -> Result<Option<Item>, ShelfError> {
        let change = self
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let free = "reading IS NULL AND why IS NULL AND coalesce(until_ms, 0) < ?1";
        let why = format!("{MOST_TRIES} workers took it and none came back");
        change.execute(
            &format!("UPDATE work SET why = ?2 WHERE {free} AND tries >= ?3"),
            params![now_ms(), why, MOST_TRIES],
        )?;
        let taken: Option<(i64, String)> = change
            .query_row(
                &format!(
                    "UPDATE work SET worker = ?2, until_ms = ?3, tries = tries + 1
                     WHERE evening = (SELECT evening FROM work WHERE {free}
                                      ORDER BY tries, evening LIMIT 1)
                     RETURNING evening, settings"
                ),
                params![now_ms(), worker.name, worker.until_ms()],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .optional()?;
        change.commit()?;
        Ok(taken.map(|(evening, settings)| Item {
            evening,
            settings: settings_from_json(&serde_json::from_str(&settings).unwrap_or_default()),
        }))
    }

    fn store(
        &mut self,
        worker: &Worker,
        item: &Item,
        gathered: &Gathered,
    ) -> Result<Worked, ShelfError> {
        let evening = item.evening;
        let about = self.evening(evening)?;
        let earlier = match about.best_reading() {
            Some(reading) => Earlier::of(self, reading)?,
            None => Earlier::default(),
        };
        let settings = settings_to_json(&item.settings);
        let change = self
            .archive_mut()
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let own = "SELECT 1 FROM work WHERE evening = ?1 AND worker = ?2 AND reading IS NULL";
        let own = change.query_row(own, params![evening, worker.name], |_| Ok(()));
        if own.optional()?.is_none() {
            return Ok(Worked::Late { evening });
        }
        let new = NewReading {
            evening,
            begin_ms: about.begin.timestamp().as_millisecond(),
            settings: &settings,
            live: false,
            earlier,
            again_from_s: None,
        };
        let mut ledger = Ledger::begin(&change, new)?;
        gathered.give(&mut ledger);
        ledger.finish(&change, gathered.whole)?;
        let reading = ledger.reading();
        change.execute(
            "UPDATE work SET reading = ?2 WHERE evening = ?1",
            [evening, reading],
        )?;
        change.commit()?;
        Ok(Worked::Stored { evening, reading })
    }

    fn give_up(&mut self, worker: &Worker, evening: i64, why: &str) -> Result<(), ShelfError> {
        self.archive().execute(
            "UPDATE work SET why = ?3 WHERE evening = ?1 AND worker = ?2 AND reading IS NULL",
            params![evening, worker.name, why],
        )?;
        Ok(())
    }
}

impl Worker {
    /// One with a name of its own and the usual lease.
    pub fn new() -> Self {
        use std::hash::{BuildHasher, Hasher};
        let chance = std::hash::RandomState::new().build_hasher().finish();
        Worker {
            name: format!("{}-{chance:016x}", std::process::id()),
            lease: Duration::from_secs(60),
        }
    }

    /// Works on the shelf in the folder `place` until nothing is left, also of what others have
    /// taken; what it did is told to `tell`.
    ///
    /// Errors: the archive. An evening that cannot be heard is given up, and no error.
    pub fn work(&self, place: &Path, tell: &mut dyn FnMut(&Worked)) -> Result<(), ShelfError> {
        let mut shelf = Shelf::make(place)?;
        loop {
            match patiently(|| shelf.take(self))? {
                Some(item) => tell(&self.one(&mut shelf, &item)?),
                None if shelf.work()?.left() == 0 => return Ok(()),
                None => std::thread::sleep(LOOK),
            }
        }
    }

    fn one(&self, shelf: &mut Shelf, item: &Item) -> Result<Worked, ShelfError> {
        let evening = item.evening;
        let heard = self.hear(shelf, item);
        let stored = match heard {
            Ok(Some(gathered)) => patiently(|| shelf.store(self, item, &gathered)),
            Ok(None) => return Ok(Worked::Late { evening }),
            Err(error) => Err(error),
        };
        match stored {
            Err(error @ ShelfError::Database(_)) => Err(error),
            Err(error) => {
                let why = error.to_string();
                patiently(|| shelf.give_up(self, evening, &why))?;
                Ok(Worked::GivenUp { evening, why })
            }
            done => done,
        }
    }

    /// What is heard in an evening; `None` if another has taken it over meanwhile.
    fn hear(&self, shelf: &Shelf, item: &Item) -> Result<Option<Gathered>, ShelfError> {
        let about = shelf.evening(item.evening)?;
        let files = shelf.sound(item.evening)?;
        let there_s: f64 = files.iter().map(|(s, _)| s.end_s() - s.begin_s).sum();
        if there_s == 0.0 {
            let evening = item.evening;
            return Err(ShelfError::NoSound { evening });
        }
        item.settings.check(f64::from(files[0].0.rate))?;
        let settings = Settings {
            unlikely: true,
            ..item.settings.clone()
        };
        let lost = Cell::new(false);
        let mut gathered = Gathered {
            steps: Vec::new(),
            whole: is_whole(&about, there_s),
        };
        let mut gathering = Gathering {
            gathered: &mut gathered,
            said: Instant::now(),
            worker: self,
            archive: shelf.archive(),
            evening: item.evening,
            lost: &lost,
        };
        let went = Walk::new(&mut gathering, &settings, 0.0, &|| lost.get()).hear(&files)?;
        Ok(went.then_some(gathered))
    }

    fn until_ms(&self) -> i64 {
        now_ms() + self.lease.as_millis() as i64
    }
}

impl Default for Worker {
    fn default() -> Self {
        Self::new()
    }
}

fn now_ms() -> i64 {
    Timestamp::now().as_millisecond()
}

/// An archive that another holds for long is asked again.
fn patiently<T>(mut ask: impl FnMut() -> Result<T, ShelfError>) -> Result<T, ShelfError> {
    for _ in 0..30 {
        match ask() {
            Err(ShelfError::Database(error)) if is_busy(&error) => std::thread::sleep(LOOK),
            other => return other,
        }
    }
    ask()
}

/// What was heard, to be stored in one.
struct Gathered {
    steps: Vec<Step>,
    whole: bool,
}

enum Step {
    Restart(f64),
    Heard(f64),
    Event(Event),
}

impl Gathered {
    fn give(&self, ledger: &mut Ledger) {
        for step in &self.steps {
            match step {
                Step::Restart(origin_s) => ledger.restart(*origin_s),
                Step::Heard(until_s) => ledger.heard(*until_s),
                Step::Event(event) => ledger.event(event),
            }
        }
    }
}

/// Gathers, and says now and then that the worker is at it.
struct Gathering<'a> {
    gathered: &'a mut Gathered,
    said: Instant,
    worker: &'a Worker,
    archive: &'a Connection,
    evening: i64,
    lost: &'a Cell<bool>,
}

impl Gathering<'_> {
    fn say(&mut self) {
        if self.said.elapsed() < self.worker.lease / 4 {
            return;
        }
        self.said = Instant::now();
        let said = self.archive.execute(
            "UPDATE work SET until_ms = ?3 WHERE evening = ?1 AND worker = ?2 AND reading IS NULL",
            params![self.evening, self.worker.name, self.worker.until_ms()],
        );
        // What could not be said is said the next time; whose it is shows when it is stored.
        self.lost.set(said.is_ok_and(|rows| rows == 0));
    }
}

impl Taker for Gathering<'_> {
    fn restart(&mut self, origin_s: f64) {
        self.gathered.steps.push(Step::Restart(origin_s));
    }

    fn heard(&mut self, until_s: f64) {
        match self.gathered.steps.last_mut() {
            Some(Step::Heard(before_s)) => *before_s = until_s,
            _ => self.gathered.steps.push(Step::Heard(until_s)),
        }
        self.say();
    }

    fn event(&mut self, event: &Event) {
        self.gathered.steps.push(Step::Event(event.clone()));
    }

    fn damaged(&mut self, _path: &Path, _why: String) {
        self.gathered.whole = false;
    }
}
