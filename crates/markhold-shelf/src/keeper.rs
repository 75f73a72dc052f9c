//! Keeps an evening: what the live engine gives to, without ever waiting for a disk.
//!
//! ```text
//!             +-> sound thread: files and notes --+
//!   Keeper ---+                                   | what was written, what is missing
//!             +-> copy thread: archive <----------+
//! ```
//!
//! The sound thread knows no archive. The copy thread opens it, tries again where it is locked
//! or out of reach, and sets a damaged one aside.

use super::copy_keeping::CopyKeeping;
use super::disk::{Disk, LocalDisk};
use super::notes::Note;
use super::recording::Recording;
use super::shared::{CopyItem, Item, Shared};
use super::sound_keeping::SoundKeeping;
use super::state::FAILED;
use super::{ClockStep, Evening, Gap, GapCause, KeepNotice, KeepSettings, KeepState, ShelfError};
use jiff::Timestamp;
use markhold_event::{Event, SentLine};
use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Sound that may wait for a slow disk, s. What comes beyond is not kept, and marked.
const MOST_WAITING_S: u64 = 30;

/// Events that may wait; about an hour of a dozen signals.
const MOST_EVENTS: usize = 200_000;

/// How long the end of the copy may take when the evening ends; what is not in the archive by
/// then is copied again from the sound at the next start.
const LAST: Duration = Duration::from_secs(3);

/// Keeps one evening: its sound, its copy, what was found.
///
/// All methods but [`Keeper::finish`] return at once; threads of its own write. Sound reaches
/// the system within a fraction of a second and the disk within half a second, copy within a
/// second. Dropping a keeper finishes the evening as [`Keeper::finish`] does, without its errors.
pub struct Keeper {
    shared: Arc<Shared>,
    begin: Timestamp,
    sound: Option<JoinHandle<Recording>>,
    /// What the sound thread left.
    recorded: Option<Recording>,
    /// The sound thread ended by a fault of the program.
    failed: bool,
    copy: Option<JoinHandle<Result<(), ShelfError>>>,
}

impl Keeper {
    /// Begins to keep `evening` on the shelf in the folder `place`, which is made if it
    /// is missing. What keeps it from being kept is told by [`Keeper::state`].
    ///
    /// Errors: the system gives no thread.
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
        let begin = evening.begin.timestamp();
        let shared = Arc::new(Shared::new(place, evening.rate));
        let sounds = SoundKeeping::new(&shared, disk, place, &evening, &settings);
        let copies = CopyKeeping::new(&shared, place, evening, settings);
        let thread = |name: &str| std::thread::Builder::new().name(name.to_string());
        let sound = thread("keeper").spawn(move || sounds.run());
        let sound = sound.map_err(ShelfError::at(place))?;
        let copy = thread("archive").spawn(move || copies.run());
        let copy = copy.map_err(ShelfError::at(place))?;
        Ok(Keeper {
            shared,
            begin,
            sound: Some(sound),
            recorded: None,
            failed: false,
            copy: Some(copy),
        })
    }

    /// How the evening is kept now, and a number that changes when this does.
    pub fn state(&self) -> (u64, KeepState) {
        // Both work until they are waited for, unless a fault of the program ended them: then
        // nothing else would tell.
        if self.sound.as_ref().is_some_and(JoinHandle::is_finished) {
            self.shared.tell_sound_failed();
        }
        if self.copy.as_ref().is_some_and(JoinHandle::is_finished) {
            self.shared.tell_copy_failed();
        }
        let told = self.shared.told();
        (told.revision, told.state.clone())
    }

    /// The evening's name on the shelf, once the archive gave it one.
    pub fn evening(&self) -> Option<i64> {
        self.shared.told().evening
    }

    /// Waits for the evening's name on the shelf; `None` if the archive gives none in that time.
    pub fn wait_for_evening(&self, most: Duration) -> Option<i64> {
        let begin = Instant::now();
        while self.evening().is_none() && begin.elapsed() < most {
            std::thread::sleep(Duration::from_millis(5));
        }
        self.evening()
    }

    /// Takes samples as the receiver is given them, -1 to 1.
    pub fn sound(&self, samples: &[f32]) {
        let mut desk = self.shared.sound_desk();
        let position = desk.position;
        desk.position += samples.len() as u64;
        let room = MOST_WAITING_S * u64::from(desk.rate);
        if desk.waiting + samples.len() as u64 > room {
            let begins = desk.dropping.is_none();
            desk.dropping.get_or_insert(position);
            drop(desk);
            if begins {
                self.shared.tell_slow(true);
            }
            return;
        }
        let missing_s = desk.mark_dropped(position);
        desk.waiting += samples.len() as u64;
        let samples = samples.to_vec();
        desk.items.push_back(Item::Sound { position, samples });
        drop(desk);
        if let Some(missing_s) = missing_s {
            self.shared.tell_slow(false);
            let cause = GapCause::SlowDisk;
            self.shared
                .notice(KeepNotice::SoundMissing { missing_s, cause });
        }
        self.shared.ring_sound();
    }

    /// Takes what the receiver reports.
    pub fn event(&self, event: &Event) {
        self.shared.copy_desk().event(event, MOST_EVENTS);
    }

    /// The receiver has heard the sound until here, s of its own time, and reported what it
    /// found in it.
    pub fn copied(&self, until_s: f64) {
        let mut desk = self.shared.copy_desk();
        match desk.items.back_mut() {
            Some(CopyItem::Copied(last)) => *last = until_s,
            _ => desk.items.push_back(CopyItem::Copied(until_s)),
        }
    }

    /// `samples` samples are missing here; `None` where nobody knows how many. The receiver
    /// is given silence of that length instead, so that its time stays right; the keeper is
    /// not.
    pub fn gap(&self, samples: impl Into<Option<u64>>, cause: GapCause) {
        let samples = samples.into();
        let mut desk = self.shared.sound_desk();
        let position = desk.position;
        desk.position += samples.unwrap_or(0);
        desk.items.push_back(Item::Gap {
            position,
            samples,
            cause,
        });
    }

    /// From here on another input is heard, or the same one again after it was gone, by a
    /// new receiver whose time 0 is `begin`, by the clock by which the evening began. To be
    /// called after the old receiver's last events. What lies between becomes a gap of this
    /// cause.
    pub fn restart(&self, input: &str, rate: u32, begin: Timestamp, cause: GapCause) {
        let since_s = begin.duration_since(self.begin).as_secs_f64();
        let mut desk = self.shared.sound_desk();
        let position = desk.position;
        desk.mark_dropped(position);
        let heard_s = desk.heard_s();
        // A clock that was set back must not make sound overlap.
        let origin_s = since_s.max(heard_s);
        let gap = (origin_s > heard_s).then_some(Gap {
            begin_s: heard_s,
            length_s: Some(origin_s - heard_s),
            cause,
        });
        (desk.rate, desk.position, desk.origin_s) = (rate, 0, origin_s);
        let input = input.to_string();
        desk.items.push_back(Item::Restart {
            input,
            rate,
            origin_s,
            gap,
        });
        drop(desk);
        let items = &mut self.shared.copy_desk().items;
        items.push_back(CopyItem::Restart { origin_s });
    }

    /// The computer's clock was put forward by so many seconds just now (back, below 0).
    pub fn clock_step(&self, by_s: f64) {
        let mut desk = self.shared.sound_desk();
        // Few digits, so that they are the same wherever they are written.
        let at_s = (desk.heard_s() * 1e3).round() / 1e3;
        let by_s = (by_s * 1e3).round() / 1e3;
        desk.items.push_back(Item::Step(ClockStep { at_s, by_s }));
    }

    /// A line was sent from here, or has grown; its time is the receiver's own, as in
    /// [`Keeper::event`].
    pub fn sent(&self, line: SentLine) {
        let mut desk = self.shared.sound_desk();
        // Few digits, so that they are the same wherever they are written.
        let at_s = ((desk.origin_s + line.at_s) * 1e3).round() / 1e3;
        desk.items.push_back(Item::Sent(SentLine { at_s, ..line }));
    }

    /// The receiver is set like this from now on.
    pub fn settings(&self, settings: serde_json::Value) {
        let mut desk = self.shared.sound_desk();
        desk.items.push_back(Item::Settings(settings));
    }

    /// What the person should know, since this was last asked.
    pub fn notices(&self) -> Vec<KeepNotice> {
        std::mem::take(&mut self.shared.told().notices)
    }

    /// Length of the sound that was given and is not yet handed to the system, s. Who
    /// gives sound faster than it was heard waits while this is large.
    pub fn waiting_s(&self) -> f64 {
        // What nobody writes any more is not waited for.
        if self.sound.as_ref().is_some_and(JoinHandle::is_finished) {
            return 0.0;
        }
        let desk = self.shared.sound_desk();
        desk.waiting as f64 / f64::from(desk.rate.max(1))
    }

    /// No more sound comes; returns when all of it is on the disk. Copy may still come.
    pub fn end_of_sound(&mut self) {
        let mut desk = self.shared.sound_desk();
        let position = desk.position;
        desk.mark_dropped(position);
        desk.finish = true;
        drop(desk);
        self.shared.ring_sound();
        match self.sound.take().map(JoinHandle::join) {
            Some(Ok(recorded)) => self.recorded = Some(recorded),
            // It was told on standard error. The copy is kept all the same.
            Some(Err(_)) => {
                self.failed = true;
                self.shared.tell_sound_failed();
            }
            None => {}
        }
    }

    /// Ends the evening; returns when everything is on the disk, after some seconds at the
    /// latest.
    ///
    /// Errors: the last of the copy could not be written in that time.
    pub fn finish(mut self) -> Result<(), ShelfError> {
        self.end()
    }

    fn end(&mut self) -> Result<(), ShelfError> {
        self.end_of_sound();
        self.shared.copy_desk().finish = Some(Instant::now() + LAST);
        self.shared.ring_copy();
        let result = self.copy.take().map(JoinHandle::join);
        if let Some(mut recorded) = self.recorded.take() {
            // Of a short evening the archive tells its number after the last sound.
            for item in self.shared.sound_desk().items.drain(..) {
                if let Item::Number(number, station) = item {
                    recorded.note(Note::of_number(number, station));
                }
            }
            recorded.leave();
        }
        match result {
            Some(Ok(Ok(()))) | None if !self.failed => Ok(()),
            Some(Ok(Err(error))) => Err(error),
            // The next start ends it, and makes up what the archive lacks from the sound.
            _ => Err(ShelfError::LeftOver { why: FAILED.into() }),
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
