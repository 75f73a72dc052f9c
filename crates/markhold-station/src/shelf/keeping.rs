//! The thread behind a keeper: sound to files, copy to the archive.

use super::disk::Disk;
use super::evening::zone_name;
use super::keeper::{Item, Shared};
use super::ledger::{Ledger, NewReading};
use super::recorder::{Recorder, Segment, bytes_of};
use super::recover::{lock, unlock};
use super::{Evening, GapCause, KeepNotice, KeepSettings, SOUND, Shelf, ShelfError, room};
use crate::sound::SoundError;
use jiff::Timestamp;
use rusqlite::{Connection, Transaction, params};
use std::collections::VecDeque;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often sound is put on the disk itself.
const SYNC: Duration = Duration::from_millis(400);

/// How often copy is put into the archive.
const SAVE: Duration = Duration::from_millis(900);

/// How often the free room is looked at.
const LOOK: Duration = Duration::from_secs(5);

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
    segments: VecDeque<Segment>,
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
        let folder = make_folder(&archive, &place, begin)?;
        let lock = lock(&folder).map_err(ShelfError::at(&folder))?;
        let change = archive.transaction()?;
        let id = enter(&change, &evening, &folder)?;
        let new = NewReading {
            evening: id,
            settings: &evening.settings,
            live: true,
        };
        let ledger = Ledger::begin(&change, &new)?;
        change.commit()?;
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
            segments: VecDeque::new(),
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
        // A power cut loses what the system was not handed or has not put on the disk.
        self.recorder.flush().map_err(told)?;
        if self.synced.elapsed() >= SYNC {
            self.synced = Instant::now();
            self.recorder.sync().map_err(told)?;
        }
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

    fn flush(&mut self) {
        if let Err(error) = self.recorder.flush() {
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
        let change = self.archive.transaction()?;
        save_segments(&change, self.evening, &self.segments)?;
        change.commit()?;
        self.segments.clear();
        Ok(())
    }

    /// Saves everything; `end_s` ends the evening too.
    fn try_save(&mut self, end_s: Option<f64>) -> rusqlite::Result<()> {
        let change = self.archive.transaction()?;
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
        let result = self.try_save(Some(self.heard_s));
        self.tell(&result);
        // What could not be ended is ended by the next start.
        unlock(&self.folder, self.lock);
        Ok(result?)
    }

    fn notice(&self, notice: KeepNotice) {
        self.shared.desk().notices.push(notice);
    }
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

/// Makes the evening's folder, under a name that no other evening ever had.
fn make_folder(
    archive: &Connection,
    place: &Path,
    begin: Timestamp,
) -> Result<PathBuf, ShelfError> {
    let sound = place.join(SOUND);
    std::fs::create_dir_all(&sound).map_err(ShelfError::at(&sound))?;
    let name = begin.strftime("%Y-%m-%d-%H%M%SZ").to_string();
    let names = (1..).map(|k| {
        if k == 1 {
            name.clone()
        } else {
            format!("{name}-{k}")
        }
    });
    for name in names {
        let folder = sound.join(&name);
        let known = "SELECT EXISTS (SELECT 1 FROM evenings WHERE folder = ?1)";
        if archive.query_row(known, [&name], |row| row.get(0))? {
            continue;
        }
        match std::fs::create_dir(&folder) {
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            other => {
                return other
                    .map(|()| folder.clone())
                    .map_err(ShelfError::at(&folder));
            }
        }
    }
    unreachable!("there is always one more number")
}

fn enter(change: &Transaction, evening: &Evening, folder: &Path) -> rusqlite::Result<i64> {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let begin = evening.begin.timestamp();
    change.execute(
        "INSERT INTO evenings (begin_ms, zone, input, settings, folder) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![
            begin.as_millisecond(),
            zone_name(evening.begin.time_zone(), begin),
            evening.input,
            evening.settings.to_string(),
            name,
        ],
    )?;
    Ok(change.last_insert_rowid())
}

fn save_segments(
    change: &Transaction,
    evening: i64,
    segments: &VecDeque<Segment>,
) -> rusqlite::Result<()> {
    for segment in segments {
        change
            .prepare_cached(
                "INSERT INTO segments (evening, number, file, begin_s, rate, samples, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
                 ON CONFLICT (evening, number) DO UPDATE SET
                     samples = excluded.samples, bytes = excluded.bytes",
            )?
            .execute(params![
                evening,
                segment.number,
                segment.file,
                segment.begin_s,
                segment.rate,
                segment.samples as i64,
                segment.bytes() as i64,
            ])?;
    }
    Ok(())
}

fn save_gaps(
    change: &Transaction,
    evening: i64,
    gaps: &[(f64, f64, GapCause)],
) -> rusqlite::Result<()> {
    for (begin_s, length_s, cause) in gaps {
        change
            .prepare_cached(
                "INSERT OR REPLACE INTO gaps (evening, begin_s, length_s, cause)
                 VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![evening, begin_s, length_s, cause.word()])?;
    }
    Ok(())
}

fn save_inputs(change: &Transaction, evening: i64, inputs: &[String]) -> rusqlite::Result<()> {
    for input in inputs {
        change.execute(
            "UPDATE evenings SET input = input || ', ' || ?2
             WHERE id = ?1 AND instr(input, ?2) = 0",
            params![evening, input],
        )?;
    }
    Ok(())
}
