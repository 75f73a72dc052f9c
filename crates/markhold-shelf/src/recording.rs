//! Sound on its way to the disk: what stops it, and how it is taken up again.

use super::disk::Disk;
use super::recorder::{Recorder, Segment};
use super::{Gap, GapCause, KeepSettings};
use jiff::Timestamp;
use markhold_sound::SoundError;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How often sound is put on the disk itself.
const SYNC: Duration = Duration::from_millis(400);

/// How often the free room is looked at.
const LOOK: Duration = Duration::from_secs(5);

/// A recorder that stops at an error of the disk and tries again later.
pub(super) struct Recording {
    // Configured.
    disk: Arc<dyn Disk>,
    folder: PathBuf,
    spare_bytes: u64,
    retry: Duration,
    // State.
    recorder: Recorder,
    stopped: Option<Stopped>,
    synced: Instant,
    looked: Instant,
}

/// Recording stopped.
struct Stopped {
    since_s: f64,
    cause: GapCause,
    retry: Instant,
}

/// Why sound could not be written.
struct Trouble {
    cause: GapCause,
    why: String,
}

/// A turn that the person should know.
#[derive(Debug)]
pub(super) enum Turn {
    /// Sound is no longer written; why, in words.
    Stopped(String),
    /// It is written again; this is missing.
    Resumed(Gap),
}

impl Recording {
    /// Of an evening that begins at `begin`, into `folder`, in files of `segment_s`.
    pub(super) fn new(
        folder: &Path,
        disk: Arc<dyn Disk>,
        (begin, rate): (Timestamp, u32),
        segment_s: f64,
        settings: &KeepSettings,
    ) -> Self {
        let now = Instant::now();
        Recording {
            recorder: Recorder::new(folder, Arc::clone(&disk), begin, rate, segment_s),
            disk,
            folder: folder.to_path_buf(),
            spare_bytes: settings.spare_bytes,
            retry: settings.retry,
            stopped: None,
            synced: now,
            looked: now,
        }
    }

    /// Number of the file that is written; 0 for none.
    pub(super) fn number(&self) -> u32 {
        self.recorder.current().map_or(0, |segment| segment.number)
    }

    /// Files that changed since this was last asked.
    pub(super) fn changed(&mut self) -> Vec<Segment> {
        self.recorder.changed()
    }

    /// Another rate, whose first sample lies `origin_s` after the evening's.
    pub(super) fn restart(&mut self, rate: u32, origin_s: f64) {
        self.recorder.restart(rate, origin_s);
    }

    /// Takes sound whose first sample lies `at_s` after the evening's.
    pub(super) fn sound(&mut self, position: u64, samples: &[f32], at_s: f64) -> Option<Turn> {
        let waits = |s: &Stopped| Instant::now() < s.retry;
        if self.stopped.as_ref().is_some_and(waits) {
            return None;
        }
        match self.room().and_then(|()| self.write(position, samples)) {
            Err(trouble) => self.stop(at_s, trouble),
            Ok(()) => self.ended(at_s).map(Turn::Resumed),
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
        match self.disk.free_bytes(&self.folder) {
            Some(free) if free < self.spare_bytes => Err(Trouble {
                cause: GapCause::FullDisk,
                why: format!(
                    "the disk is full, {} MB are left and {} MB are spared for the copy; \
                     make room or set the shelf's limit lower",
                    free / 1_000_000,
                    self.spare_bytes / 1_000_000
                ),
            }),
            _ => Ok(()),
        }
    }

    /// A kill loses what the system was not handed, a power cut what is not on the disk.
    /// `at_s` is where the sound handed in ends.
    pub(super) fn flush(&mut self, at_s: f64) -> Option<Turn> {
        let mut result = self.recorder.flush();
        if result.is_ok() && self.synced.elapsed() >= SYNC {
            self.synced = Instant::now();
            result = self.recorder.sync();
        }
        result.err().and_then(|error| self.stop(at_s, error.into()))
    }

    fn stop(&mut self, since_s: f64, Trouble { cause, why }: Trouble) -> Option<Turn> {
        self.recorder.close();
        let retry = Instant::now() + self.retry;
        if let Some(stopped) = &mut self.stopped {
            stopped.retry = retry;
            return None;
        }
        self.stopped = Some(Stopped {
            since_s,
            cause,
            retry,
        });
        Some(Turn::Stopped(why))
    }

    /// What is missing, if recording was stopped and no longer is.
    fn ended(&mut self, at_s: f64) -> Option<Gap> {
        let stopped = self.stopped.take()?;
        Some(Gap {
            begin_s: stopped.since_s,
            length_s: Some(at_s - stopped.since_s),
            cause: stopped.cause,
        })
    }

    /// Nothing more comes. Returns what is missing at the end.
    pub(super) fn finish(&mut self, at_s: f64) -> Option<Gap> {
        self.recorder.close();
        self.ended(at_s)
    }
}

impl From<SoundError> for Trouble {
    fn from(error: SoundError) -> Self {
        match error {
            SoundError::Io(io) if io.kind() == std::io::ErrorKind::StorageFull => Trouble {
                cause: GapCause::FullDisk,
                why: "the disk is full; make room on it".to_string(),
            },
            other => Trouble {
                cause: GapCause::Disk,
                why: other.to_string(),
            },
        }
    }
}
