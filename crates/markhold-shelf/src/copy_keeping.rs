//! The thread that writes copy: the archive, opened again and again where it has to be.
//!
//! ```text
//!              opened, evening entered
//!   away -------------------------------> open
//!     ^    locked, out of reach:            |
//!     |    again after 0.5, 1, 2, .. 10 s   | taken away, damaged, disk failed
//!     +-------------------------------------+
//! ```

use super::access::{self, Found};
use super::caretaker::Caretaker;
use super::earlier::Earlier;
use super::folder::{self, Mark};
use super::ledger::{Ledger, NewReading};
use super::recorder::bytes_of;
use super::rows::{
    enter, own_station, save_gaps, save_inputs, save_segments, save_sent, save_steps, set_folder,
};
use super::schema::FILE;
use super::shared::{CopyItem, Facts, Item, Shared};
use super::words::{database_words, is_busy, is_damage};
use super::{Evening, KeepNotice, KeepSettings, ShelfError, room};
use markhold_event::StationId;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often copy is put into the archive.
const SAVE: Duration = Duration::from_millis(900);

/// How long another program that writes is waited for at once.
const BUSY: Duration = Duration::from_millis(50);

/// How long another program may hold the archive before the person is told: most write and
/// are done.
const PATIENCE: Duration = Duration::from_secs(3);

/// Times between two attempts to open the archive.
const WAITS: (Duration, Duration) = (Duration::from_millis(500), Duration::from_secs(10));

/// Longest time between two archives that are set aside.
const LONGEST: Duration = Duration::from_secs(600);

/// How often it is looked whether the archive is still there.
const WATCH: Duration = Duration::from_secs(1);

/// Writes the copy of one evening.
pub(super) struct CopyKeeping {
    // Configured.
    shared: Arc<Shared>,
    place: PathBuf,
    evening: Evening,
    settings: KeepSettings,
    // State.
    archive: Archive,
    /// The evening's name in the archive, once it has one.
    number: Option<i64>,
    /// Whose archive that is.
    station: Option<StationId>,
    ledger: Ledger,
    /// All of the sound that an archive must know, and what of it this one does not know yet.
    known: Facts,
    new: Facts,
    /// The file that room was made for last.
    room_for: u32,
    saved: Instant,
    begun: Instant,
    /// Whether anything came that could be kept.
    something: bool,
    ending: bool,
    /// Since when another program holds the archive.
    busy_since: Option<Instant>,
    /// Whether the archive was found damaged though it looked sound when it was opened.
    damaged: bool,
    /// How often that was.
    damages: u32,
    caretaker: Option<Caretaker>,
}

enum Archive {
    Open {
        connection: Connection,
        mark: Option<Mark>,
        watched: Instant,
    },
    Away {
        next: Instant,
        wait: Duration,
    },
}

impl CopyKeeping {
    pub(super) fn new(
        shared: &Arc<Shared>,
        place: &Path,
        evening: Evening,
        settings: KeepSettings,
    ) -> Self {
        CopyKeeping {
            shared: Arc::clone(shared),
            place: place.to_path_buf(),
            ledger: Ledger::new(evening.begin.timestamp().as_millisecond()),
            evening,
            settings,
            archive: Archive::Away {
                next: Instant::now(),
                wait: WAITS.0,
            },
            number: None,
            station: None,
            known: Facts::default(),
            new: Facts::default(),
            room_for: 0,
            saved: Instant::now(),
            begun: Instant::now(),
            something: false,
            ending: false,
            busy_since: None,
            damaged: false,
            damages: 0,
            caretaker: None,
        }
    }

    /// Works until the evening ends.
    pub(super) fn run(mut self) -> Result<(), ShelfError> {
        loop {
            let finish = self.take();
            self.reach();
            if let Some(until) = finish {
                return self.finish(until);
            }
            if self.saved.elapsed() >= SAVE {
                self.save();
            }
        }
    }

    /// Takes what came; when the evening is to end, if it is.
    fn take(&mut self) -> Option<Instant> {
        let mut desk = self.shared.wait_for_end(SAVE / 4);
        let items = std::mem::take(&mut desk.items);
        let facts = std::mem::take(&mut desk.facts);
        (desk.events, desk.facts.heard_s) = (0, facts.heard_s);
        let lost = std::mem::take(&mut desk.lost_events);
        let finish = desk.finish;
        drop(desk);
        let is_event = |item: &CopyItem| matches!(item, CopyItem::Event(_));
        // What was sent is worth an evening, though nothing was heard in it.
        let heard = facts.heard_s > 0.0 || items.iter().any(is_event);
        self.something |= heard || !facts.sent.is_empty();
        self.ending = finish.is_some();
        self.ledger.heard(facts.heard_s);
        self.known.add(&facts);
        self.new.add(&facts);
        for item in items {
            match item {
                CopyItem::Event(event) => self.ledger.event(&event),
                CopyItem::Restart { origin_s } => self.ledger.restart(origin_s),
                CopyItem::Copied(until_s) => self.ledger.copied(until_s),
            }
        }
        if lost > 0 {
            self.ledger.lost_all();
        }
        let lines = lost + self.ledger.given_up();
        if lines > 0 {
            self.shared.notice(KeepNotice::CopyLost { lines });
        }
        finish
    }

    /// Opens the archive if it is time to, or looks whether it is still there.
    fn reach(&mut self) {
        match &mut self.archive {
            Archive::Open { mark, watched, .. } => {
                if watched.elapsed() >= WATCH {
                    *watched = Instant::now();
                    if !folder::stands(&self.place.join(FILE), *mark) {
                        self.shared.notice(KeepNotice::ArchiveGone);
                        self.leave();
                    }
                }
            }
            Archive::Away { next, .. } => {
                // The evening is known by its folder, which the other thread makes; where it
                // cannot, copy is kept all the same.
                let waited = self.ending || self.begun.elapsed() >= PATIENCE;
                let known = self.known.folder.is_some() || waited;
                if *next <= Instant::now() && known && self.something {
                    self.open();
                }
            }
        }
    }

    /// Lets go of the archive and opens one anew.
    fn leave(&mut self) {
        self.caretaker = None;
        self.archive = Archive::Away {
            next: Instant::now(),
            wait: WAITS.0,
        };
    }

    fn open(&mut self) {
        let opened = access::open_whatever(&self.place, self.damaged);
        let entered = opened.and_then(|(mut connection, found)| {
            self.enter(&mut connection)?;
            Ok((connection, found))
        });
        match entered {
            Ok((connection, found)) => {
                self.tell_found(found);
                self.damaged = false;
                let care = self.settings.care;
                self.caretaker = care.then(|| Caretaker::begin(&self.place, &self.shared));
                self.archive = Archive::Open {
                    connection,
                    mark: folder::mark(&self.place.join(FILE)),
                    watched: Instant::now(),
                };
                self.save();
            }
            Err(error) => {
                let busy = match &error {
                    ShelfError::Held => true,
                    ShelfError::Database(error) => is_busy(error),
                    _ => false,
                };
                self.refuse(busy, error.refusal());
                if let Archive::Away { next, wait } = &mut self.archive {
                    *next = Instant::now() + *wait;
                    *wait = (*wait * 2).min(WAITS.1);
                }
            }
        }
    }

    fn tell_found(&self, found: Found) {
        if let Some(file) = found.damaged {
            self.shared.notice(KeepNotice::SetAside { file });
        }
        if found.adopted > 0 {
            let evenings = found.adopted;
            self.shared.notice(KeepNotice::Adopted { evenings });
        }
    }

    /// Enters the evening and its reading into an archive that does not know them, or finds
    /// them in one that does.
    fn enter(&mut self, archive: &mut Connection) -> Result<(), ShelfError> {
        archive.busy_timeout(BUSY)?;
        let begin = self.evening.begin.timestamp();
        let usual = || folder::usual(&self.place, begin);
        let folder = self.known.folder.clone().unwrap_or_else(usual);
        let begin_ms = begin.as_millisecond();
        let change = immediate(archive)?;
        let there = change
            .query_row(
                "SELECT e.id, (SELECT min(id) FROM readings WHERE evening = e.id AND live)
                 FROM evenings e WHERE folder = ?1 AND begin_ms = ?2",
                params![name(&folder), begin_ms],
                |row| Ok((row.get::<_, i64>(0)?, row.get::<_, Option<i64>>(1)?)),
            )
            .optional()?
            // An earlier evening may have begun at the same time by a clock that was wrong.
            .filter(|(id, _)| self.number == Some(*id));
        let id = match there {
            Some((id, _)) => id,
            None => enter(&change, &self.evening, self.number, &folder)?,
        };
        let holds_all = match there {
            Some((_, Some(reading))) => self.ledger.go_on(&change, reading)?,
            _ => {
                let new = NewReading {
                    evening: id,
                    begin_ms,
                    settings: &self.evening.settings,
                    live: true,
                    earlier: Earlier::default(),
                    again_from_s: None,
                };
                self.ledger.enter(&change, &new)?;
                self.number.is_none()
            }
        };
        change.execute("UPDATE evenings SET end_ms = NULL WHERE id = ?1", [id])?;
        let station = Some(own_station(&change)?);
        change.commit()?;
        if !holds_all {
            // What the archive before held is not here.
            self.ledger.lost_all();
        }
        if self.number != Some(id) || station != self.station {
            let mut desk = self.shared.sound_desk();
            desk.items
                .extend(station.map(|name| Item::Number(id, name)));
        }
        self.station = station;
        self.number = Some(id);
        self.shared.told().evening = Some(id);
        self.new = self.known.clone();
        Ok(())
    }

    /// Puts all that is new into the archive. What fails is tried again next time.
    fn save(&mut self) {
        self.saved = Instant::now();
        let Archive::Open { connection, .. } = &mut self.archive else {
            return;
        };
        let (Some(number), facts) = (self.number, &self.new) else {
            return;
        };
        let result = save(connection, (number, None), facts, &mut self.ledger);
        match result {
            Ok(()) => self.saved_well(),
            Err(error) => self.failed(&error),
        }
    }

    fn saved_well(&mut self) {
        self.new = Facts::default();
        self.busy_since = None;
        self.shared.tell_copy(Ok(()));
        let latest = self.known.segments.keys().next_back().copied().unwrap_or(0);
        if latest > self.room_for {
            self.room_for = latest;
            if let Err(error) = self.make_room() {
                self.failed(&error);
            }
        }
    }

    fn failed(&mut self, error: &rusqlite::Error) {
        self.refuse(is_busy(error), database_words(error));
        if access::is_damage_of_words(error)
            && let Archive::Open { connection, .. } = &self.archive
            && access::mend_words(connection).is_ok()
        {
            return;
        }
        if is_damage(error) {
            self.damaged = true;
            self.leave();
            // A disk that damages every archive is not to be filled with them.
            let wait = (WAITS.1 * self.damages).min(LONGEST);
            self.damages += 1;
            if let Archive::Away { next, .. } = &mut self.archive {
                *next = Instant::now() + wait;
            }
        } else if !is_busy(error)
            && error.sqlite_error_code() != Some(rusqlite::ErrorCode::DiskFull)
        {
            self.leave();
            if let Archive::Away { next, wait } = &mut self.archive {
                *next = Instant::now() + *wait;
            }
        }
    }

    /// Copy is not kept, and why; another program is given a moment first.
    fn refuse(&mut self, busy: bool, why: String) {
        let since = *self.busy_since.get_or_insert_with(Instant::now);
        if !busy || since.elapsed() >= PATIENCE {
            self.shared.tell_copy(Err(why));
        }
    }

    /// Removes the oldest sound, so that a whole new file fits.
    fn make_room(&mut self) -> rusqlite::Result<()> {
        let (Archive::Open { connection, .. }, Some(evening)) = (&self.archive, self.number) else {
            return Ok(());
        };
        let rate = self
            .known
            .segments
            .get(&self.room_for)
            .map_or(0, |s| s.rate);
        let samples = room::segment_s(&self.settings, rate.max(1)) * f64::from(rate);
        let open = room::Open {
            evening,
            number: self.room_for,
            bytes: bytes_of(samples as u64),
        };
        let limit = self.settings.sound_bytes;
        let made = room::make(connection, &self.place, limit, &open)?;
        if made.files > 0 {
            let (files, bytes) = (made.files, made.bytes);
            self.shared
                .notice(KeepNotice::SoundRemoved { files, bytes });
        }
        if made.over > 0 {
            self.shared.notice(KeepNotice::MoreThanItsRoom { limit });
        }
        Ok(())
    }

    /// The last batch, tried until then.
    fn finish(mut self, until: Instant) -> Result<(), ShelfError> {
        if !self.something {
            return Ok(());
        }
        // It stops at once; what it had begun is begun again at the next start.
        self.caretaker = None;
        let begin_ms = self.evening.begin.timestamp().as_millisecond();
        let sent_s = self.known.sent.iter().map(|line| line.at_s);
        let end_s = sent_s.fold(self.known.heard_s, f64::max);
        let end_ms = Some(begin_ms + (end_s * 1e3) as i64);
        loop {
            let result = match (&mut self.archive, self.number) {
                (Archive::Open { connection, .. }, Some(number)) => {
                    save(connection, (number, end_ms), &self.new, &mut self.ledger)
                        .map_err(|error| database_words(&error))
                }
                _ => Err("the archive is out of reach".to_string()),
            };
            match result {
                Ok(()) => {
                    self.saved_well();
                    return Ok(());
                }
                // What could not be ended is ended by the next start.
                Err(why) if Instant::now() >= until => return Err(ShelfError::LeftOver { why }),
                Err(_) => std::thread::sleep(BUSY),
            }
            if let Archive::Away { next, .. } = &mut self.archive {
                *next = (*next).min(Instant::now() + WAITS.0);
                self.reach();
            }
        }
    }
}

/// Saves everything; `end_ms` ends the evening too.
fn save(
    archive: &mut Connection,
    (evening, end_ms): (i64, Option<i64>),
    facts: &Facts,
    ledger: &mut Ledger,
) -> rusqlite::Result<()> {
    let change = immediate(archive)?;
    if let Some(folder) = &facts.folder {
        set_folder(&change, evening, name(folder))?;
    }
    save_segments(&change, evening, facts.segments.values())?;
    save_gaps(&change, evening, &facts.gaps)?;
    save_inputs(&change, evening, &facts.inputs)?;
    save_steps(&change, evening, &facts.steps)?;
    save_sent(&change, evening, &facts.sent)?;
    match end_ms {
        None => ledger.save(&change)?,
        Some(end_ms) => {
            ledger.finish(&change, true)?;
            let end = "UPDATE evenings SET end_ms = ?2 WHERE id = ?1";
            change.execute(end, params![evening, end_ms])?;
        }
    }
    change.commit()?;
    ledger.saved();
    Ok(())
}

fn name(folder: &Path) -> &str {
    folder
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or_default()
}

/// A change that waits for other writers now rather than fail among its statements.
fn immediate(archive: &mut Connection) -> rusqlite::Result<Transaction<'_>> {
    archive.transaction_with_behavior(TransactionBehavior::Immediate)
}
