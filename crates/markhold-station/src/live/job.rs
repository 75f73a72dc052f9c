//! What the sound thread asks of the copying thread, and how far that is.

use crate::settings::InUse;
use std::sync::atomic::Ordering::{Acquire, Release};
use std::sync::atomic::{AtomicBool, AtomicU64};
use std::sync::mpsc::Sender;

/// For so long at most the receiver keeps what it heard to itself, s: doubtful characters eight
/// seconds, windows and language the rest.
pub(super) const HELD_S: f64 = 16.0;

/// What the copying thread is to do, in order.
pub(super) enum Job {
    /// Sound of this rate begins at this live time.
    Begin {
        rate: u32,
        at_s: f64,
    },
    Sound(Vec<f32>),
    Lost {
        samples: u64,
    },
    Set(InUse),
    /// The sound so far is all there is: copied to its end, then answered.
    Finish(Sender<()>),
    /// The source has ended.
    End {
        at_s: f64,
        why: Option<String>,
    },
    /// A fault of the program.
    #[cfg(test)]
    Fault,
}

/// What both ends of the queue see.
pub(super) struct Progress {
    /// Until where the sound was copied, live time in s, as the bits of a float.
    copied_s: AtomicU64,
    /// From where on copy is missing because of a fault of the program, likewise.
    whole_until_s: AtomicU64,
    /// What waits is left uncopied.
    pub(super) stop: AtomicBool,
}

impl Default for Progress {
    fn default() -> Self {
        Progress {
            copied_s: AtomicU64::default(),
            whole_until_s: AtomicU64::new(f64::INFINITY.to_bits()),
            stop: AtomicBool::default(),
        }
    }
}

impl Progress {
    /// The sound was copied until there, live time, s.
    pub(super) fn copied(&self, until_s: f64) {
        self.copied_s.store(until_s.to_bits(), Release);
    }

    /// A receiver ended here, live time, s, and what it kept to itself with it; it had begun there.
    pub(super) fn stumbled(&self, at_s: f64, begin_s: f64) {
        let whole_s = (at_s - HELD_S).max(begin_s);
        let before_s = f64::from_bits(self.whole_until_s.load(Acquire));
        let whole_s = whole_s.min(before_s);
        self.whole_until_s.store(whole_s.to_bits(), Release);
    }

    /// Until where all of the sound was copied, live time, s.
    pub(super) fn whole_s(&self) -> f64 {
        let copied_s = f64::from_bits(self.copied_s.load(Acquire));
        copied_s.min(f64::from_bits(self.whole_until_s.load(Acquire)))
    }
}
