//! Opening an input: what the system is asked for.

use super::ring::Tap;
use std::sync::mpsc::Sender;
use std::time::Duration;

/// Blocks a second that the device is asked for: a smaller one may be lost on a busy
/// computer, a larger one makes the tuning slow.
pub(super) const BLOCKS_PER_S: u32 = 25;
/// How long opening may take.
pub(super) const TIMEOUT: Duration = Duration::from_secs(3);

/// An input that was opened; it closes when `stream` is dropped.
pub struct Opened {
    /// What a person knows it by.
    pub name: String,
    /// Samples a second, Hz.
    pub rate: u32,
    /// Holds it open.
    pub stream: Box<dyn Send>,
}

/// Opens an input, at the start and each time it has vanished.
pub trait OpenInput: Send + Sync {
    /// Opens it. `tap` makes the callback's end of a ring for a rate in Hz; errors that
    /// come later are sent to `trouble`.
    ///
    /// # Errors
    ///
    /// Why it cannot be opened, in words for the person.
    fn open(
        &self,
        tap: &mut dyn FnMut(u32) -> Tap,
        trouble: Sender<Trouble>,
    ) -> Result<Opened, String>;
}

/// What a device says of itself while it is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// Samples were lost; nobody knows how many.
    Lost,
    /// It gives no more sound.
    Ended(String),
}
