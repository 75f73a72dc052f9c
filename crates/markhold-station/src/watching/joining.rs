//! What skeds send is put together anew, beside everything else, when one more was kept.

use jiff::Timestamp;
use markhold_shelf::Shelf;
use std::path::Path;
use std::thread::JoinHandle;

/// Puts together what skeds send, one time after the other.
pub struct Joining {
    due: bool,
    at_work: Option<JoinHandle<()>>,
}

impl Default for Joining {
    /// What was kept before and not put together is due.
    fn default() -> Self {
        Joining {
            due: true,
            at_work: None,
        }
    }
}

impl Joining {
    /// One more was kept.
    pub fn is_due(&mut self) {
        self.due = true;
    }

    /// Begins if it is due and nobody is at it. Sound may be heard again, which takes its time:
    /// skeds are not to wait for it.
    pub fn look(&mut self, place: &Path, now: Timestamp) {
        let at_work = self
            .at_work
            .as_ref()
            .is_some_and(|thread| !thread.is_finished());
        if !self.due || at_work {
            return;
        }
        let place = place.to_path_buf();
        let put_together = move || {
            // What fails is tried again when one more was kept, or when it is asked for.
            let _ = Shelf::open(&place).and_then(|mut shelf| shelf.make_known(now));
        };
        let thread = std::thread::Builder::new().name("joining".into());
        self.at_work = thread.spawn(put_together).ok();
        self.due = false;
    }
}
