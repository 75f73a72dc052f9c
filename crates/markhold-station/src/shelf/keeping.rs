//! The thread behind a keeper: sound to files, copy to the archive.

use super::disk::Disk;
use super::folder;
use super::keeper::{Item, Shared};
use super::ledger::{Ledger, NewReading};
use super::recorder::{Recorder, Segment, bytes_of};
use super::rows::{enter, save_gaps, save_inputs, save_segments};
use super::{Evening, GapCause, KeepNotice, KeepSettings, Shelf, ShelfError, room};
use crate::sound::SoundError;
use jiff::Timestamp;
use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use std::collections::VecDeque;
use std::fs::File;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often sound is put on the disk itself.
const SYNC: Duration = Duration::from_millis(400);

/// How often copy is put into the archive.
const SAVE: Duration = Duration::from_millis(900);

/// How often the free room is looked at.
const LOOK: Duration = Duration::from_secs(5);

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
    disk: Arc<dyn Disk>,
    settings: KeepSettings,
    evening: i64,
    begin: Timestamp,
    place: PathBuf,
    folder: PathBuf,
    // State.
    archive: Connection,
    lock: File,
    recorder: Recorder,
    ledger: Ledger,
    rate: u32,
    origin_s: f64,
    /// Until where sound was handed in, s from the evening's first sample.
    heard_s: f64,
    gaps: Vec<(f64, f64, GapCause)>,
    /// Inputs that came later and are not in the archive yet.
    inputs: Vec<String>,
    segments: Vec<Segment>,
    stopped: Option<Stopped>,
    /// Whether the archive could not be written lately.
    copy_waits: bool,
    segments_begun: u32,
    synced: Instant,
    saved: Instant,
    looked: Instant,
}

/// Recording stopped.
struct Stopped {
    since_s: f64,
    retry: Instant,
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
        };
        let ledger = Ledger::begin(&change, &new)?;
        change.commit()?;
        archive.busy_timeout(BUSY)?;
        let segment_s = room::segment_s(&settings, evening.rate);
        let recorder = Recorder::new(&folder, Arc::clone(&disk), begin, evening.rate, segment_s);
        let now = Instant::now();
        Ok(Keeping {
            shared,
            disk,
            settings,
            evening: id,
            begin,
            place,
            folder,
            archive,
            lock,
            recorder,
            ledger,
            rate: evening.rate,
            origin_s: 0.0,
            heard_s: 0.0,
            gaps: Vec::new(),
            inputs: Vec::new(),
            segments: Vec::new(),
            stopped: None,
            copy_waits: false,
            segments_begun: 0,
            synced: now,
            saved: now,
            looked: now,
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
                let length_s = samples as f64 / f64::from(self.rate);
                self.gaps.push((self.second(position), length_s, cause));
                self.heard_s = self.second(position + samples);
            }
            Item::Restart { input, rate, begin } => {
                self.inputs.push(input);
                self.restart(rate, begin);
            }
        }
    }

    /// Seconds from the evening's first sample to a position.
    fn second(&self, position: u64) -> f64 {
        self.origin_s + position as f64 / f64::from(self.rate)
    }

    fn restart(&mut self, rate: u32, begin: Timestamp) {
        // A clock that was set back must not make sound overlap.
        let since = begin.duration_since(self.begin).as_secs_f64();
        let origin_s = since.max(self.heard_s);
        self.flush();
        if origin_s > self.heard_s {
            self.gaps
                .push((self.heard_s, origin_s - self.heard_s, GapCause::Device));
        }
        (self.rate, self.origin_s, self.heard_s) = (rate, origin_s, origin_s);
        self.recorder.restart(rate, origin_s);
        self.ledger.restart(origin_s);
    }

    fn sound(&mut self, position: u64, samples: &[f32]) {
        if self
            .stopped
            .as_ref()
            .is_some_and(|s| Instant::now() < s.retry)
        {
            return;
        }
        if let Err(why) = self.room().and_then(|()| self.write(position, samples)) {
            self.stop(self.second(position), why);
        } else if let Some(stopped) = self.stopped.take() {
            let missing_s = self.second(position) - stopped.since_s;
            self.gaps
                .push((stopped.since_s, missing_s, GapCause::FullDisk));
            self.notice(KeepNotice::RecordingResumed { missing_s });
        }
    }

    fn write(&mut self, position: u64, samples: &[f32]) -> Result<(), String> {
        let told = |error: SoundError| why(&error);
        self.recorder.write(position, samples).map_err(told)?;
        self.recorder.flush().map_err(told)?;
        let number = self.recorder.current().map_or(0, |segment| segment.number);
        if number != self.segments_begun {
            self.segments_begun = number;
            self.make_room();
        }
        Ok(())
    }

    /// Whether there is room left on the disk, looked at now and then.
    fn room(&mut self) -> Result<(), String> {
        if self.stopped.is_none()
            && self.recorder.current().is_some()
            && self.looked.elapsed() < LOOK
        {
            return Ok(());
        }
        self.looked = Instant::now();
        match self.disk.free_bytes(&self.folder) {
            Some(free) if free < self.settings.spare_bytes => Err(format!(
                "the disk is full, {} MB are left and {} MB are spared for the copy; \
                 make room or set the shelf's limit lower",
                free / 1_000_000,
                self.settings.spare_bytes / 1_000_000
            )),
            _ => Ok(()),
        }
    }

    fn stop(&mut self, since_s: f64, why: String) {
        self.recorder.close();
        let retry = Instant::now() + self.settings.retry;
        match &mut self.stopped {
            Some(stopped) => stopped.retry = retry,
            None => {
                self.stopped = Some(Stopped { since_s, retry });
                self.notice(KeepNotice::RecordingStopped { why });
            }
        }
    }

    /// A kill loses what the system was not handed, a power cut what is not on the disk.
    fn flush(&mut self) {
        let mut result = self.recorder.flush();
        if result.is_ok() && self.synced.elapsed() >= SYNC {
            self.synced = Instant::now();
            result = self.recorder.sync();
        }
        if let Err(error) = result {
            self.stop(self.heard_s, why(&error));
        }
    }

    /// Removes the oldest sound, so that a whole new file fits.
    fn make_room(&mut self) {
        self.segments.extend(self.recorder.changed());
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
        self.segments.extend(self.recorder.changed());
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
        self.recorder.close();
        self.segments.extend(self.recorder.changed());
        if let Some(stopped) = self.stopped.take() {
            let missing_s = self.heard_s - stopped.since_s;
            self.gaps
                .push((stopped.since_s, missing_s, GapCause::FullDisk));
        }
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

/// What the disk says, in words.
fn why(error: &SoundError) -> String {
    match error {
        SoundError::Io(io) if io.kind() == std::io::ErrorKind::StorageFull => {
            "the disk is full; make room on it".to_string()
        }
        other => other.to_string(),
    }
}
