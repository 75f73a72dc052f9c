//! The thread behind a keeper: sound to files, copy to the archive.

use super::disk::Disk;
use super::earlier::Earlier;
use super::folder;
use super::keeper::{Item, Shared};
use super::ledger::{Ledger, NewReading};
use super::recorder::{Segment, bytes_of};
use super::recording::{Recording, Turn};
use super::rows::{enter, save_gaps, save_inputs, save_segments};
use super::{Evening, Gap, GapCause, KeepNotice, KeepSettings, Shelf, ShelfError, room};
use jiff::Timestamp;
use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use std::collections::VecDeque;
use std::fs::File;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often copy is put into the archive.
const SAVE: Duration = Duration::from_millis(900);

/// How long another program that writes is waited for: sound must not wait, copy can.
const BUSY: Duration = Duration::from_millis(50);

/// The same when the evening ends and nothing else waits.
const LAST_BUSY: Duration = Duration::from_secs(20);

/// How long the thread sleeps when nothing comes.
const IDLE: Duration = Duration::from_millis(200);

/// What a keeper begins with.
pub(super) struct Start {
    pub(super) shelf: Shelf,
    pub(super) disk: Arc<dyn Disk>,
    pub(super) evening: Evening,
    pub(super) settings: KeepSettings,
}

/// Writes one evening.
pub(super) struct Keeping {
    // Configured.
    shared: Arc<Shared>,
    settings: KeepSettings,
    evening: i64,
    begin: Timestamp,
    place: PathBuf,
    folder: PathBuf,
    // State.
    archive: Connection,
    lock: File,
    recording: Recording,
    ledger: Ledger,
    rate: u32,
    origin_s: f64,
    /// Until where sound was handed in, s from the evening's first sample.
    heard_s: f64,
    gaps: Vec<Gap>,
    /// Inputs that came later and are not in the archive yet.
    inputs: Vec<String>,
    segments: Vec<Segment>,
    /// Whether the archive could not be written lately.
    copy_waits: bool,
    segments_begun: u32,
    saved: Instant,
}

impl Keeping {
    /// Enters the evening into the archive and makes its folder.
    pub(super) fn begin(start: Start, shared: Arc<Shared>) -> Result<Self, ShelfError> {
        let Start {
            shelf,
            disk,
            evening,
            settings,
        } = start;
        let (place, mut archive) = shelf.into_parts();
        let begin = evening.begin.timestamp();
        let folder = folder::make(&archive, &place, begin)?;
        let lock = folder::lock(&folder).map_err(ShelfError::at(&folder))?;
        let change = immediate(&mut archive)?;
        let id = enter(&change, &evening, &folder)?;
        let new = NewReading {
            evening: id,
            begin_ms: begin.as_millisecond(),
            settings: &evening.settings,
            live: true,
            earlier: Earlier::default(),
        };
        let ledger = Ledger::begin(&change, new)?;
        change.commit()?;
        archive.busy_timeout(BUSY)?;
        let segment_s = room::segment_s(&settings, evening.rate);
        let of = (begin, evening.rate);
        let recording = Recording::new(&folder, disk, of, segment_s, &settings);
        Ok(Keeping {
            shared,
            settings,
            evening: id,
            begin,
            place,
            folder,
            archive,
            lock,
            recording,
            ledger,
            rate: evening.rate,
            origin_s: 0.0,
            heard_s: 0.0,
            gaps: Vec::new(),
            inputs: Vec::new(),
            segments: Vec::new(),
            copy_waits: false,
            segments_begun: 0,
            saved: Instant::now(),
        })
    }

    pub(super) fn evening(&self) -> i64 {
        self.evening
    }

    /// Works until the keeper is finished.
    pub(super) fn run(mut self) -> Result<(), ShelfError> {
        loop {
            let (items, finish) = self.take();
            for item in items {
                self.item(item);
                self.flush();
            }
            self.flush();
            if self.saved.elapsed() >= SAVE {
                self.save();
            }
            if finish {
                return self.finish();
            }
        }
    }

    fn take(&mut self) -> (VecDeque<Item>, bool) {
        let mut desk = self.shared.wait(IDLE);
        desk.events = 0;
        let lost = std::mem::take(&mut desk.lost_events);
        if lost > 0 {
            desk.notices.push(KeepNotice::CopyLost { lines: lost });
        }
        let finish = desk.finish;
        (std::mem::take(&mut desk.items), finish)
    }

    fn item(&mut self, item: Item) {
        match item {
            Item::Sound { position, samples } => {
                self.heard_s = self.second(position + samples.len() as u64);
                self.ledger.heard(self.heard_s);
                self.sound(position, &samples);
                self.shared.desk().waiting -= samples.len() as u64;
            }
            Item::Event(event) => self.ledger.event(&event),
            Item::Gap {
                position,
                samples,
                cause,
            } => {
                self.gaps.push(Gap {
                    begin_s: self.second(position),
                    length_s: samples.map(|samples| samples as f64 / f64::from(self.rate)),
                    cause,
                });
                self.heard_s = self.second(position + samples.unwrap_or(0));
            }
            Item::Restart {
                input,
                rate,
                begin,
                cause,
            } => {
                self.inputs.push(input);
                self.restart(rate, begin, cause);
            }
        }
    }

    /// Seconds from the evening's first sample to a position.
    fn second(&self, position: u64) -> f64 {
        self.origin_s + position as f64 / f64::from(self.rate)
    }

    fn restart(&mut self, rate: u32, begin: Timestamp, cause: GapCause) {
        // A clock that was set back must not make sound overlap.
        let since = begin.duration_since(self.begin).as_secs_f64();
        let origin_s = since.max(self.heard_s);
        self.flush();
        if origin_s > self.heard_s {
            self.gaps.push(Gap {
                begin_s: self.heard_s,
                length_s: Some(origin_s - self.heard_s),
                cause,
            });
        }
        (self.rate, self.origin_s, self.heard_s) = (rate, origin_s, origin_s);
        self.recording.restart(rate, origin_s);
        self.ledger.restart(origin_s);
    }

    fn sound(&mut self, position: u64, samples: &[f32]) {
        let turn = self
            .recording
            .sound(position, samples, self.second(position));
        self.turn(turn);
        let number = self.recording.number();
        if number > self.segments_begun {
            self.segments_begun = number;
            self.make_room();
        }
    }

    fn flush(&mut self) {
        let turn = self.recording.flush(self.heard_s);
        self.turn(turn);
    }

    fn turn(&mut self, turn: Option<Turn>) {
        match turn {
            Some(Turn::Stopped(why)) => self.notice(KeepNotice::RecordingStopped { why }),
            Some(Turn::Resumed(gap)) => {
                self.gaps.push(gap);
                let missing_s = gap.length_s.unwrap_or(0.0);
                self.notice(KeepNotice::RecordingResumed { missing_s });
            }
            None => {}
        }
    }

    /// Removes the oldest sound, so that a whole new file fits.
    fn make_room(&mut self) {
        self.segments.extend(self.recording.changed());
        let samples = room::segment_s(&self.settings, self.rate) * f64::from(self.rate);
        let open = room::Open {
            evening: self.evening,
            number: self.segments_begun,
            bytes: bytes_of(samples as u64),
        };
        let limit = self.settings.sound_bytes;
        match self
            .save_sound()
            .and_then(|()| room::make(&self.archive, &self.place, limit, &open))
        {
            Ok((files @ 1.., bytes)) => self.notice(KeepNotice::SoundRemoved { files, bytes }),
            Ok(_) => {}
            Err(error) => self.copy_waits(&error),
        }
    }

    /// Puts all that is new into the archive. What fails is tried again next time.
    fn save(&mut self) {
        self.saved = Instant::now();
        self.segments.extend(self.recording.changed());
        let result = self.try_save(None);
        self.tell(&result);
    }

    fn tell(&mut self, result: &rusqlite::Result<()>) {
        match result {
            Err(error) => self.copy_waits(error),
            Ok(()) if std::mem::take(&mut self.copy_waits) => self.notice(KeepNotice::CopySaved),
            Ok(()) => {}
        }
        let lines = self.ledger.given_up();
        if lines > 0 {
            self.notice(KeepNotice::CopyLost { lines });
        }
    }

    fn copy_waits(&mut self, error: &rusqlite::Error) {
        if !std::mem::replace(&mut self.copy_waits, true) {
            let why = error.to_string();
            self.notice(KeepNotice::CopyWaits { why });
        }
    }

    fn save_sound(&mut self) -> rusqlite::Result<()> {
        let change = immediate(&mut self.archive)?;
        save_segments(&change, self.evening, &self.segments)?;
        change.commit()?;
        self.segments.clear();
        Ok(())
    }

    /// Saves everything; `end_s` ends the evening too.
    fn try_save(&mut self, end_s: Option<f64>) -> rusqlite::Result<()> {
        let change = immediate(&mut self.archive)?;
        save_segments(&change, self.evening, &self.segments)?;
        save_gaps(&change, self.evening, &self.gaps)?;
        save_inputs(&change, self.evening, &self.inputs)?;
        match end_s {
            None => self.ledger.save(&change)?,
            Some(end_s) => {
                self.ledger.finish(&change, true)?;
                let end_ms = self.begin.as_millisecond() + (end_s * 1e3) as i64;
                change.execute(
                    "UPDATE evenings SET end_ms = ?2 WHERE id = ?1",
                    params![self.evening, end_ms],
                )?;
            }
        }
        change.commit()?;
        self.ledger.saved();
        self.segments.clear();
        self.gaps.clear();
        self.inputs.clear();
        Ok(())
    }

    fn finish(mut self) -> Result<(), ShelfError> {
        self.gaps.extend(self.recording.finish(self.heard_s));
        self.segments.extend(self.recording.changed());
        self.archive.busy_timeout(LAST_BUSY)?;
        let result = self.try_save(Some(self.heard_s));
        self.tell(&result);
        // What could not be ended is ended by the next start.
        folder::unlock(&self.folder, self.lock);
        Ok(result?)
    }

    fn notice(&self, notice: KeepNotice) {
        self.shared.desk().notices.push(notice);
    }
}

/// A change that waits for other writers now rather than fail among its statements.
fn immediate(archive: &mut Connection) -> rusqlite::Result<Transaction<'_>> {
    archive.transaction_with_behavior(TransactionBehavior::Immediate)
}
