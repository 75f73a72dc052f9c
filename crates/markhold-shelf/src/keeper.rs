//! Keeps an evening: what the live engine gives to, without ever waiting for a disk.

use super::disk::{Disk, LocalDisk};
use super::keeping::{Keeping, Start};
use super::{Evening, GapCause, Shelf, ShelfError};
use markhold_event::Event;
use std::collections::VecDeque;
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// Sound that may wait for a slow disk, s. What comes beyond is not kept, and marked.
const MOST_WAITING_S: u64 = 30;

/// Events that may wait; about an hour of a dozen signals.
const MOST_EVENTS: usize = 200_000;

/// How an evening is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeepSettings {
    /// Most bytes of sound on the shelf; the oldest makes room for the latest.
    pub sound_bytes: u64,
    /// Recording stops while less than this many bytes are free on the disk, so that the
    /// copy and everybody else still have room.
    pub spare_bytes: u64,
    /// Length of a sound file, s.
    pub segment_s: f64,
    /// How long after an error of the disk recording is tried again.
    pub retry: Duration,
}

impl Default for KeepSettings {
    /// 20 GiB: some sixty hours at 48 kHz, two weeks at 8 kHz.
    fn default() -> Self {
        KeepSettings {
            sound_bytes: 20 << 30,
            spare_bytes: 256 << 20,
            segment_s: 300.0,
            retry: Duration::from_secs(10),
        }
    }
}

/// Something the person should know. Copying goes on in every case.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum KeepNotice {
    /// Sound is no longer recorded.
    RecordingStopped {
        /// Why, in words.
        why: String,
    },
    /// Sound is recorded again.
    RecordingResumed {
        /// Length of what is missing, s.
        missing_s: f64,
    },
    /// The disk takes sound too slowly.
    DiskTooSlow {
        /// Length of what is missing, s.
        missing_s: f64,
    },
    /// The archive cannot be written; the copy waits in memory and is tried again.
    CopyWaits {
        /// Why, in words.
        why: String,
    },
    /// Copy waited too long and is lost.
    CopyLost {
        /// Lines lost; events where they did not become lines.
        lines: u64,
    },
    /// The copy that waited is in the archive.
    CopySaved,
    /// The oldest sound made room.
    SoundRemoved {
        /// Files removed.
        files: u64,
        /// Their bytes together.
        bytes: u64,
    },
}

impl std::fmt::Display for KeepNotice {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            KeepNotice::RecordingStopped { why } => write!(
                f,
                "recording stopped: {why}; copying goes on, recording is tried again by itself"
            ),
            KeepNotice::RecordingResumed { missing_s } => {
                write!(f, "recording again; {missing_s:.1} s of sound are missing")
            }
            KeepNotice::DiskTooSlow { missing_s } => write!(
                f,
                "the disk is too slow for the sound; {missing_s:.1} s of it are missing"
            ),
            KeepNotice::CopyWaits { why } => write!(
                f,
                "the archive cannot be written ({why}); the copy waits and is tried again"
            ),
            KeepNotice::CopyLost { lines } => write!(
                f,
                "the archive could not be written for too long; {lines} lines of copy are lost"
            ),
            KeepNotice::CopySaved => write!(f, "the copy that waited is in the archive"),
            KeepNotice::SoundRemoved { files, bytes } => write!(
                f,
                "{files} of the oldest sound files ({:.0} MB) made room; their copy stays",
                *bytes as f64 / 1e6
            ),
        }
    }
}

/// What waits for the thread that writes.
pub(super) enum Item {
    Sound {
        position: u64,
        samples: Vec<f32>,
    },
    Event(Box<Event>),
    Gap {
        position: u64,
        /// `None`: nobody knows how many.
        samples: Option<u64>,
        cause: GapCause,
    },
    Restart {
        input: String,
        rate: u32,
        begin: jiff::Timestamp,
        cause: GapCause,
    },
}

/// What the two threads share.
#[derive(Default)]
pub(super) struct Desk {
    pub(super) items: VecDeque<Item>,
    /// Samples handed in and not yet handed to the system.
    pub(super) waiting: u64,
    pub(super) events: usize,
    pub(super) lost_events: u64,
    pub(super) notices: Vec<KeepNotice>,
    pub(super) finish: bool,
    rate: u32,
    position: u64,
    /// Where samples began to be dropped because too many wait.
    dropping: Option<u64>,
}

impl Desk {
    /// Marks what was dropped before `position`, if anything was.
    fn mark_dropped(&mut self, position: u64) {
        if let Some(from) = self.dropping.take() {
            let samples = position - from;
            let missing_s = samples as f64 / f64::from(self.rate.max(1));
            self.notices.push(KeepNotice::DiskTooSlow { missing_s });
            let cause = GapCause::SlowDisk;
            self.items.push_back(Item::Gap {
                position: from,
                samples: Some(samples),
                cause,
            });
        }
    }
}

/// The desk and the bell beside it.
#[derive(Default)]
pub(super) struct Shared {
    desk: Mutex<Desk>,
    bell: Condvar,
}

impl Shared {
    pub(super) fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for something to do, but not for long.
    pub(super) fn wait(&self, most: Duration) -> MutexGuard<'_, Desk> {
        let wait = |desk: &mut Desk| desk.items.is_empty() && !desk.finish;
        let waited = self.bell.wait_timeout_while(self.desk(), most, wait);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }
}

/// Keeps one evening: its sound, its copy, what was found.
///
/// All methods return at once; a thread of its own writes. Sound reaches the system
/// within a fraction of a second and the disk within half a second, copy within a second.
/// Dropping a keeper finishes the evening as [`Keeper::finish`] does, without its errors.
pub struct Keeper {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<Result<(), ShelfError>>>,
    evening: i64,
}

impl Keeper {
    /// Begins to keep `evening` on the shelf in the folder `place`, which is made if it
    /// is missing.
    ///
    /// Errors: the archive cannot be opened or written, or is of a later layout.
    pub fn begin(
        place: &Path,
        evening: Evening,
        settings: KeepSettings,
    ) -> Result<Self, ShelfError> {
        Self::begin_on(Arc::new(LocalDisk), place, evening, settings)
    }

    /// As [`Keeper::begin`], with sound on a disk of the caller's.
    pub fn begin_on(
        disk: Arc<dyn Disk>,
        place: &Path,
        evening: Evening,
        settings: KeepSettings,
    ) -> Result<Self, ShelfError> {
        let shelf = Shelf::make(place)?;
        let shared = Arc::new(Shared::default());
        shared.desk().rate = evening.rate;
        let start = Start {
            shelf,
            disk,
            evening,
            settings,
        };
        let keeping = Keeping::begin(start, Arc::clone(&shared))?;
        let evening = keeping.evening();
        let thread = std::thread::Builder::new()
            .name("keeper".to_string())
            .spawn(move || keeping.run())
            .map_err(ShelfError::at(place))?;
        Ok(Keeper {
            shared,
            thread: Some(thread),
            evening,
        })
    }

    /// The evening's name on the shelf.
    pub fn evening(&self) -> i64 {
        self.evening
    }

    /// Takes samples as the receiver is given them, -1 to 1.
    pub fn sound(&self, samples: &[f32]) {
        let mut desk = self.shared.desk();
        let position = desk.position;
        desk.position += samples.len() as u64;
        let room = MOST_WAITING_S * u64::from(desk.rate);
        if desk.waiting + samples.len() as u64 > room {
            desk.dropping.get_or_insert(position);
            return;
        }
        desk.mark_dropped(position);
        desk.waiting += samples.len() as u64;
        let samples = samples.to_vec();
        desk.items.push_back(Item::Sound { position, samples });
        drop(desk);
        self.shared.bell.notify_one();
    }

    /// Takes what the receiver reports.
    pub fn event(&self, event: &Event) {
        let mut desk = self.shared.desk();
        if desk.events >= MOST_EVENTS {
            desk.lost_events += 1;
            return;
        }
        desk.events += 1;
        desk.items.push_back(Item::Event(Box::new(event.clone())));
    }

    /// `samples` samples are missing here; `None` where nobody knows how many. The receiver
    /// is given silence of that length instead, so that its time stays right; the keeper is
    /// not.
    pub fn gap(&self, samples: impl Into<Option<u64>>, cause: GapCause) {
        let samples = samples.into();
        let mut desk = self.shared.desk();
        let position = desk.position;
        desk.position += samples.unwrap_or(0);
        desk.items.push_back(Item::Gap {
            position,
            samples,
            cause,
        });
    }

    /// From here on another input is heard, or the same one again after it was gone, by a
    /// new receiver whose time 0 is `begin`. To be called after the old receiver's last
    /// events. What lies between becomes a gap of this cause.
    pub fn restart(&self, input: &str, rate: u32, begin: jiff::Timestamp, cause: GapCause) {
        let mut desk = self.shared.desk();
        let position = desk.position;
        desk.mark_dropped(position);
        (desk.rate, desk.position) = (rate, 0);
        let input = input.to_string();
        desk.items.push_back(Item::Restart {
            input,
            rate,
            begin,
            cause,
        });
    }

    /// What the person should know, since this was last asked.
    pub fn notices(&self) -> Vec<KeepNotice> {
        std::mem::take(&mut self.shared.desk().notices)
    }

    /// Length of the sound that was given and is not yet handed to the system, s. Who
    /// gives sound faster than it was heard waits while this is large.
    pub fn waiting_s(&self) -> f64 {
        let desk = self.shared.desk();
        desk.waiting as f64 / f64::from(desk.rate.max(1))
    }

    /// Ends the evening; returns when everything is on the disk.
    ///
    /// Errors: the last of the copy could not be written.
    pub fn finish(mut self) -> Result<(), ShelfError> {
        self.end()
    }

    fn end(&mut self) -> Result<(), ShelfError> {
        let mut desk = self.shared.desk();
        let position = desk.position;
        desk.mark_dropped(position);
        desk.finish = true;
        drop(desk);
        self.shared.bell.notify_one();
        match self.thread.take().map(JoinHandle::join) {
            Some(Ok(result)) => result,
            Some(Err(panic)) => std::panic::resume_unwind(panic),
            None => Ok(()),
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        if !std::thread::panicking() {
            let _ = self.end();
        }
    }
}
