//! Sound on its way to the disk: what stops it, and how it is taken up again.

use super::disk::Disk;
use super::folder;
use super::notes::{Note, Notes};
use super::recorder::{Recorder, Segment};
use super::settling::Settling;
use super::words::io_words;
use super::{Evening, Gap, GapCause, KeepSettings};
use jiff::Timestamp;
use markhold_sound::SoundError;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often sound is put on the disk itself.
const SETTLE: Duration = Duration::from_millis(400);

/// How long a disk may take for that before it is told: a power cut would cost so much.
const BEHIND: Duration = Duration::from_secs(10);

const BEHIND_WORDS: &str = "the disk has not taken for ten seconds what was written";

/// How often the free room is looked at.
const LOOK: Duration = Duration::from_secs(5);

/// How often it is looked whether the file is still there.
const WATCH: Duration = Duration::from_secs(1);

/// A recorder that stops at an error of the disk and tries again later.
pub(super) struct Recording {
    // Configured.
    disk: Arc<dyn Disk>,
    place: PathBuf,
    begin: Timestamp,
    spare_bytes: u64,
    retry: Duration,
    // State.
    recorder: Recorder,
    /// The evening's folder and the lock in it, once it could be made.
    home: Option<(PathBuf, File)>,
    notes: Notes,
    settling: Settling,
    /// The disk is that far behind.
    behind: bool,
    stopped: Option<Stopped>,
    settled: Instant,
    looked: Instant,
    watched: Instant,
}

/// Recording stopped.
struct Stopped {
    since_s: f64,
    /// No sound has come since: nothing is missing.
    idle: bool,
    trouble: Trouble,
    retry: Instant,
}

/// Why sound could not be written.
struct Trouble {
    cause: GapCause,
    why: String,
    /// There is too little room: what a look at the disk says, and what a look can end. A disk that
    /// refused to write says itself when it does so no more.
    room: bool,
}

impl Recording {
    /// Of an evening at `rate`, on the shelf in `place`, in files of `segment_s`.
    pub(super) fn new(
        place: &Path,
        disk: Arc<dyn Disk>,
        evening: &Evening,
        segment_s: f64,
        settings: &KeepSettings,
    ) -> Self {
        let now = Instant::now();
        let (begin, rate) = (evening.begin.timestamp(), evening.rate);
        let mut notes = Notes::default();
        notes.add(Note::of_evening(evening));
        Recording {
            recorder: Recorder::new(place, Arc::clone(&disk), begin, rate, segment_s),
            disk,
            place: place.to_path_buf(),
            begin,
            spare_bytes: settings.spare_bytes,
            retry: settings.retry,
            home: None,
            notes,
            settling: Settling::begin(),
            behind: false,
            stopped: None,
            settled: now,
            looked: now,
            watched: now,
        }
    }

    /// The evening's folder, once it could be made.
    pub(super) fn folder(&self) -> Option<&Path> {
        self.home.as_ref().map(|(folder, _)| folder.as_path())
    }

    /// Why sound is not written, while it is not.
    pub(super) fn trouble(&self) -> Option<String> {
        match &self.stopped {
            Some(stopped) => Some(stopped.trouble.why.clone()),
            None => self.behind.then(|| BEHIND_WORDS.to_string()),
        }
    }

    /// Writes down what the evening knows of itself.
    pub(super) fn note(&mut self, note: Note) {
        self.notes.add(note);
    }

    /// Files that changed since this was last asked.
    pub(super) fn changed(&mut self) -> Vec<Segment> {
        self.recorder.changed()
    }

    /// Another rate, whose first sample lies `origin_s` after the evening's.
    pub(super) fn restart(&mut self, rate: u32, origin_s: f64) {
        self.recorder.restart(rate, origin_s);
    }

    /// Takes sound whose first sample lies `at_s` after the evening's. Returns what is missing
    /// if it was not written for a while and is again.
    pub(super) fn sound(&mut self, position: u64, samples: &[f32], at_s: f64) -> Option<Gap> {
        if let Some(stopped) = self.stopped.as_mut().filter(|stopped| stopped.idle) {
            (stopped.idle, stopped.since_s, stopped.retry) = (false, at_s, Instant::now());
        }
        let waits = |s: &Stopped| Instant::now() < s.retry;
        if self.stopped.as_ref().is_some_and(waits) {
            return None;
        }
        let written = self
            .move_in()
            .and_then(|()| self.room())
            .and_then(|()| self.write(position, samples));
        match written {
            Err(trouble) => {
                self.stop(at_s, trouble);
                None
            }
            Ok(()) => self.ended(at_s),
        }
    }

    /// Makes the evening's folder where there is none yet.
    fn move_in(&mut self) -> Result<(), Trouble> {
        if self.home.is_some() {
            return Ok(());
        }
        let folder = folder::make(&self.place, self.begin)?;
        let lock = folder::lock(&folder)?;
        self.notes.move_to(&folder);
        self.recorder.move_to(&folder);
        self.home = Some((folder, lock));
        Ok(())
    }

    /// Looks now and then whether the file is still there. Where it was deleted or moved away,
    /// a new folder is made with the next sound, and what was lost is returned.
    pub(super) fn watch(&mut self) -> Option<Segment> {
        if self.watched.elapsed() < WATCH {
            return None;
        }
        self.watched = Instant::now();
        let there = self.home.as_ref().is_none_or(|(folder, _)| folder.is_dir());
        if there && self.recorder.is_there() {
            return None;
        }
        let lost = self.recorder.forget();
        if !there {
            self.home = None;
        }
        lost
    }

    /// Where no sound comes that would find the disk full, or find room on it again, the room is
    /// looked at all the same, and so is how far behind it is: how the evening is kept is to be told
    /// as it is. `None` where that did not change, else what is missing, if anything is.
    pub(super) fn look(&mut self, heard_s: f64) -> Option<Option<Gap>> {
        let behind = self.settling.behind().is_some_and(|time| time > BEHIND);
        if std::mem::replace(&mut self.behind, behind) != behind {
            return Some(None);
        }
        if self.looked.elapsed() < LOOK.min(self.retry) {
            return None;
        }
        let full = |stopped: &Stopped| stopped.trouble.room;
        match (self.room(), &self.stopped) {
            (Err(trouble), None) => {
                self.stop(heard_s, trouble);
                self.stopped
                    .iter_mut()
                    .for_each(|stopped| stopped.idle = true);
                Some(None)
            }
            (Ok(()), Some(stopped)) if full(stopped) => Some(self.ended(heard_s)),
            _ => None,
        }
    }

    fn write(&mut self, position: u64, samples: &[f32]) -> Result<(), Trouble> {
        self.recorder.write(position, samples)?;
        Ok(self.recorder.flush()?)
    }

    /// Whether there is room left on the disk, looked at now and then.
    fn room(&mut self) -> Result<(), Trouble> {
        let writes = self.stopped.is_none() && self.recorder.current().is_some();
        if writes && self.looked.elapsed() < LOOK {
            return Ok(());
        }
        self.looked = Instant::now();
        let folder = self.folder().unwrap_or(&self.place);
        match self.disk.free_bytes(folder) {
            Some(free) if free < self.spare_bytes => Err(Trouble {
                cause: GapCause::FullDisk,
                why: format!(
                    "the disk is full, {} MB are left and {} MB are spared for the copy; \
                     make room or set the shelf's limit lower",
                    free / 1_000_000,
                    self.spare_bytes / 1_000_000
                ),
                room: true,
            }),
            _ => Ok(()),
        }
    }

    /// A kill loses what the system was not handed, a power cut what is not on the disk.
    /// `at_s` is where the sound handed in ends.
    pub(super) fn flush(&mut self, at_s: f64) {
        let flushed = self.recorder.flush();
        let settled = self.settling.trouble().map_or(Ok(()), Err);
        if let Err(trouble) = flushed
            .map_err(Trouble::from)
            .and(settled.map_err(Trouble::from))
        {
            self.stop(at_s, trouble);
        }
        // A disk that is behind gets it all at once when it has caught up.
        if self.settled.elapsed() >= SETTLE && self.settling.behind().is_none() {
            self.settle();
        }
    }

    /// Has all that was handed to the system put on the disk itself.
    fn settle(&mut self) {
        self.settled = Instant::now();
        let notes = self.notes.settling();
        self.settling
            .put(notes.into_iter().chain(self.recorder.settling()));
    }

    fn stop(&mut self, since_s: f64, trouble: Trouble) {
        self.recorder.close();
        let retry = Instant::now() + self.retry;
        // The first cause is that of the gap; the latest is what can be done about it.
        match &mut self.stopped {
            Some(stopped) => {
                (stopped.retry, stopped.trouble.why) = (retry, trouble.why);
                stopped.trouble.room = trouble.room;
            }
            None => {
                self.stopped = Some(Stopped {
                    since_s,
                    idle: false,
                    trouble,
                    retry,
                });
            }
        }
    }

    /// What is missing, if recording was stopped and no longer is, and sound came meanwhile.
    fn ended(&mut self, at_s: f64) -> Option<Gap> {
        let stopped = self.stopped.take()?;
        let missing = !stopped.idle && at_s > stopped.since_s;
        missing.then_some(Gap {
            begin_s: stopped.since_s,
            length_s: Some(at_s - stopped.since_s),
            cause: stopped.trouble.cause,
        })
    }

    /// Nothing more comes; waits until all of it is on the disk. Returns what is missing at the end.
    pub(super) fn finish(&mut self, at_s: f64) -> Option<Gap> {
        self.recorder.close();
        self.settle();
        self.settling.wait();
        self.ended(at_s)
    }

    /// Nobody keeps the evening any more.
    pub(super) fn leave(&mut self) {
        self.settle();
        self.settling.wait();
        if let Some((folder, lock)) = self.home.take() {
            folder::unlock(&folder, lock);
        }
    }
}

impl From<std::io::Error> for Trouble {
    fn from(error: std::io::Error) -> Self {
        use std::io::ErrorKind::{QuotaExceeded, StorageFull};
        let full = matches!(error.kind(), StorageFull | QuotaExceeded);
        Trouble {
            cause: if full {
                GapCause::FullDisk
            } else {
                GapCause::Disk
            },
            why: io_words(&error),
            room: false,
        }
    }
}

impl From<SoundError> for Trouble {
    fn from(error: SoundError) -> Self {
        match error {
            SoundError::Io(io) => io.into(),
            SoundError::DiskFull => std::io::Error::from(std::io::ErrorKind::StorageFull).into(),
            SoundError::NotFound => Trouble {
                cause: GapCause::Deleted,
                why: "its folder was deleted or moved away".to_string(),
                room: false,
            },
            other => Trouble {
                cause: GapCause::Disk,
                why: other.to_string(),
                room: false,
            },
        }
    }
}
