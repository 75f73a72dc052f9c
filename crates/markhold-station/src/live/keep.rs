//! The keeping of raw sound: what the archive gives to the live path.

use crate::report::Anchor;
use markhold_event::{Event, SentLine};
use markhold_receive::Settings;
use markhold_shelf::{GapCause, KeepState};

/// What a keeper tells.
#[derive(Clone, Debug, PartialEq)]
pub enum KeepTold {
    /// How it keeps now; when that changes.
    State(KeepState),
    /// What happened, in a sentence for the person.
    Notice(String),
    /// The number of the evening on the shelf, once it has one.
    Evening(i64),
}

/// Keeps sound. It gets every sample before anything else does.
///
/// Nothing here waits for a disk, but for [`KeepSound::end_of_sound`] and [`KeepSound::finish`].
/// What cannot be kept is told by [`KeepSound::told`], and listening goes on.
pub trait KeepSound: Send {
    /// Sound from a source begins, or begins again at another rate. What was kept before is
    /// finished, and all events of it have been given; if time went by since, sound is
    /// missing because of `before`.
    fn begin(&mut self, source: &str, rate: u32, anchor: &Anchor, before: GapCause);

    /// Keeps samples.
    fn sound(&mut self, samples: &[f32]);

    /// So many samples are missing here, and why; `None` where nobody knows how many.
    fn gap(&mut self, lost: Option<u64>, cause: GapCause);

    /// The copy of what was kept; comes seconds after the sound, from the same thread. Times
    /// are live time, as in [`Anchor`].
    fn event(&mut self, _event: &Event) {}

    /// A line was sent from here, or has grown. Its time is live time, as in [`Anchor`].
    fn sent(&mut self, _line: &SentLine) {}

    /// All sound until this live time, s, was heard by the receiver, and what it reported was
    /// given.
    fn copied(&mut self, _until_s: f64) {}

    /// The receiver is set like this from now on.
    fn settings(&mut self, _settings: &Settings) {}

    /// The computer's clock was put forward by so many seconds (back, below 0).
    fn clock_step(&mut self, _by_s: f64) {}

    /// What is to be told since this was last asked.
    fn told(&mut self) -> Vec<KeepTold> {
        Vec::new()
    }

    /// No more sound comes; it is put on the disk. Copy may still come.
    fn end_of_sound(&mut self) {}

    /// Nothing more comes. Returns after some seconds at the latest.
    ///
    /// # Errors
    ///
    /// What could not be finished, in words.
    fn finish(&mut self) -> Result<(), String>;
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct KeepNothing;

impl KeepSound for KeepNothing {
    fn begin(&mut self, _: &str, _: u32, _: &Anchor, _: GapCause) {}

    fn sound(&mut self, _: &[f32]) {}

    fn gap(&mut self, _: Option<u64>, _: GapCause) {}

    fn finish(&mut self) -> Result<(), String> {
        Ok(())
    }
}
