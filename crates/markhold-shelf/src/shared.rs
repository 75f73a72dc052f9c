//! What a keeper and its threads share.

use super::notice::KeepNotice;
use super::recorder::Segment;
use super::{ClockStep, Gap, GapCause, KeepState, Kept};
use jiff::Timestamp;
use markhold_event::{Event, SentLine, StationId};
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// What waits for the thread that writes sound.
pub(super) enum Item {
    Sound {
        position: u64,
        samples: Vec<f32>,
    },
    Gap {
        position: u64,
        /// `None`: nobody knows how many.
        samples: Option<u64>,
        cause: GapCause,
    },
    Restart {
        input: String,
        rate: u32,
        origin_s: f64,
        gap: Option<Gap>,
    },
    Step(ClockStep),
    Sent(SentLine),
    Settings(serde_json::Value),
    /// The archive of this station knows the evening under this number.
    Number(i64, StationId),
}

/// What waits for the thread that writes copy, in order.
pub(super) enum CopyItem {
    Event(Box<Event>),
    Restart { origin_s: f64 },
    Copied(f64),
}

/// Sound that was handed in.
#[derive(Default)]
pub(super) struct SoundDesk {
    pub(super) items: VecDeque<Item>,
    /// Samples handed in and not yet handed to the system.
    pub(super) waiting: u64,
    pub(super) finish: bool,
    pub(super) rate: u32,
    pub(super) position: u64,
    /// Where position 0 lies, s from the first sample of the evening.
    pub(super) origin_s: f64,
    /// Where samples began to be dropped because too many wait.
    pub(super) dropping: Option<u64>,
}

impl SoundDesk {
    /// Until where sound was handed in, s from the evening's first sample.
    pub(super) fn heard_s(&self) -> f64 {
        self.origin_s + self.position as f64 / f64::from(self.rate.max(1))
    }

    /// Marks what was dropped before `position`; how much, s, if anything was.
    pub(super) fn mark_dropped(&mut self, position: u64) -> Option<f64> {
        let from = self.dropping.take()?;
        let samples = position - from;
        self.items.push_back(Item::Gap {
            position: from,
            samples: Some(samples),
            cause: GapCause::SlowDisk,
        });
        Some(samples as f64 / f64::from(self.rate.max(1)))
    }
}

/// What the archive is to know of the sound.
#[derive(Clone, Debug, Default)]
pub(super) struct Facts {
    pub(super) folder: Option<PathBuf>,
    pub(super) segments: BTreeMap<u32, Segment>,
    pub(super) gaps: Vec<Gap>,
    pub(super) inputs: Vec<String>,
    pub(super) steps: Vec<ClockStep>,
    pub(super) sent: Vec<SentLine>,
    pub(super) heard_s: f64,
}

impl Facts {
    /// Takes in what came later.
    pub(super) fn add(&mut self, later: &Facts) {
        if later.folder.is_some() {
            self.folder.clone_from(&later.folder);
        }
        self.segments
            .extend(later.segments.iter().map(|(n, s)| (*n, s.clone())));
        self.gaps.extend(&later.gaps);
        self.inputs.extend(later.inputs.iter().cloned());
        self.steps.extend(&later.steps);
        self.sent.extend(later.sent.iter().cloned());
        self.heard_s = self.heard_s.max(later.heard_s);
    }
}

/// Copy that was handed in, and facts.
#[derive(Default)]
pub(super) struct CopyDesk {
    pub(super) items: VecDeque<CopyItem>,
    pub(super) events: usize,
    pub(super) lost_events: u64,
    pub(super) facts: Facts,
    /// The evening ends; until when the end may take.
    pub(super) finish: Option<Instant>,
}

impl CopyDesk {
    pub(super) fn event(&mut self, event: &Event, most: usize) {
        if self.events >= most {
            self.lost_events += 1;
            return;
        }
        self.events += 1;
        self.items
            .push_back(CopyItem::Event(Box::new(event.clone())));
    }
}

/// What the person is told.
#[derive(Default)]
pub(super) struct Told {
    pub(super) state: KeepState,
    /// Changes with the state.
    pub(super) revision: u64,
    pub(super) notices: Vec<KeepNotice>,
    pub(super) evening: Option<i64>,
    /// What the sound's state is but for a slow disk.
    sound: Kept,
    slow: bool,
}

impl Told {
    fn set(&mut self, change: impl FnOnce(&mut KeepState)) {
        let before = self.state.clone();
        change(&mut self.state);
        self.revision += u64::from(before != self.state);
    }
}

/// The desks and the bells beside them.
#[derive(Default)]
pub(super) struct Shared {
    sound: Mutex<SoundDesk>,
    sound_bell: Condvar,
    copy: Mutex<CopyDesk>,
    copy_bell: Condvar,
    told: Mutex<Told>,
}

impl Shared {
    pub(super) fn new(place: &Path, rate: u32) -> Self {
        let shared = Shared::default();
        shared.sound_desk().rate = rate;
        shared.told().state.place = place.display().to_string();
        shared
    }

    pub(super) fn sound_desk(&self) -> MutexGuard<'_, SoundDesk> {
        self.sound.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn copy_desk(&self) -> MutexGuard<'_, CopyDesk> {
        self.copy.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn told(&self) -> MutexGuard<'_, Told> {
        self.told.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn ring_sound(&self) {
        self.sound_bell.notify_one();
    }

    pub(super) fn ring_copy(&self) {
        self.copy_bell.notify_one();
    }

    /// Waits for sound, but not for long.
    pub(super) fn wait_for_sound(&self, most: Duration) -> MutexGuard<'_, SoundDesk> {
        let wait = |desk: &mut SoundDesk| desk.items.is_empty() && !desk.finish;
        let waited = self
            .sound_bell
            .wait_timeout_while(self.sound_desk(), most, wait);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }

    /// Waits for the end of the evening, but not for long: copy is written in batches.
    pub(super) fn wait_for_end(&self, most: Duration) -> MutexGuard<'_, CopyDesk> {
        let wait = |desk: &mut CopyDesk| desk.finish.is_none();
        let waited = self
            .copy_bell
            .wait_timeout_while(self.copy_desk(), most, wait);
        waited.unwrap_or_else(PoisonError::into_inner).0
    }

    pub(super) fn notice(&self, notice: KeepNotice) {
        self.told().notices.push(notice);
    }

    /// The sound is kept, or why it is not.
    pub(super) fn tell_sound(&self, kept: Result<(), String>) {
        let mut told = self.told();
        match kept {
            Ok(()) => told.sound = Kept::Yes,
            Err(why) => told.sound.refuse(why, Timestamp::now()),
        }
        Self::tell_sum(&mut told);
    }

    /// Nothing writes the sound any more.
    pub(super) fn tell_sound_failed(&self) {
        let mut told = self.told();
        told.sound.fail(Timestamp::now());
        let sound = told.sound.clone();
        told.set(|state| state.sound = sound);
    }

    /// Nothing writes the copy any more.
    pub(super) fn tell_copy_failed(&self) {
        self.told().set(|state| state.copy.fail(Timestamp::now()));
    }

    /// More sound waits than may, or no more.
    pub(super) fn tell_slow(&self, slow: bool) {
        let mut told = self.told();
        told.slow = slow;
        Self::tell_sum(&mut told);
    }

    fn tell_sum(told: &mut Told) {
        let (sound, slow) = (told.sound.clone(), told.slow);
        told.set(|state| match slow {
            true => state
                .sound
                .refuse("the disk is too slow".into(), Timestamp::now()),
            false => state.sound = sound,
        });
    }

    /// The copy is kept, or why it is not.
    pub(super) fn tell_copy(&self, kept: Result<(), String>) {
        self.told().set(|state| match kept {
            Ok(()) => state.copy = Kept::Yes,
            Err(why) => state.copy.refuse(why, Timestamp::now()),
        });
    }
}
