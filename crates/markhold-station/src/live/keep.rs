//! The keeping of raw sound: what the archive gives to the live path.

use crate::report::Anchor;
use markhold_event::Event;
use markhold_shelf::GapCause;

/// Keeps sound. It gets every sample before anything else does.
///
/// An error is reported and listening goes on; the next call may succeed again.
pub trait KeepSound: Send {
    /// Sound from a source begins, or begins again at another rate. What was kept before is
    /// finished, and all events of it have been given; if time went by since, sound is
    /// missing because of `before`.
    ///
    /// # Errors
    ///
    /// Why nothing can be kept, in words for the person.
    fn begin(
        &mut self,
        source: &str,
        rate: u32,
        anchor: &Anchor,
        before: GapCause,
    ) -> Result<(), String>;

    /// Keeps samples.
    ///
    /// # Errors
    ///
    /// Why they could not be kept.
    fn sound(&mut self, samples: &[f32]) -> Result<(), String>;

    /// So many samples are missing here, and why; `None` where nobody knows how many.
    ///
    /// # Errors
    ///
    /// Why that could not be written down.
    fn gap(&mut self, lost: Option<u64>, cause: GapCause) -> Result<(), String>;

    /// The copy of what was kept; comes seconds after the sound, from the same thread. Times
    /// are live time, as in [`Anchor`].
    ///
    /// # Errors
    ///
    /// Why it could not be written down.
    fn event(&mut self, _event: &Event) -> Result<(), String> {
        Ok(())
    }

    /// Nothing more comes.
    ///
    /// # Errors
    ///
    /// Why it could not be finished.
    fn finish(&mut self) -> Result<(), String>;
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct KeepNothing;

impl KeepSound for KeepNothing {
    fn begin(&mut self, _: &str, _: u32, _: &Anchor, _: GapCause) -> Result<(), String> {
        Ok(())
    }

    fn sound(&mut self, _: &[f32]) -> Result<(), String> {
        Ok(())
    }

    fn gap(&mut self, _: Option<u64>, _: GapCause) -> Result<(), String> {
        Ok(())
    }

    fn finish(&mut self) -> Result<(), String> {
        Ok(())
    }
}
