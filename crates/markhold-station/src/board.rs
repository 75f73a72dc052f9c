//! The board: what is told goes into the sum of all reports and to everybody who follows.

use crate::ear::{Ear, Mouth};
use crate::report::Report;
use crate::snapshot::Snapshot;
use crate::subscription::{Subscription, WAITING};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::broadcast;

/// Where everything is told. Clones are the same board.
#[derive(Clone)]
pub struct Board {
    inner: Arc<Mutex<Inner>>,
    sound: Arc<Mouth>,
}

struct Inner {
    sum: Snapshot,
    /// `None` once everything is told.
    reports: Option<broadcast::Sender<Arc<Report>>>,
}

impl Inner {
    /// Everything from here on; nothing, where everything is told.
    fn queue(&self) -> broadcast::Receiver<Arc<Report>> {
        match &self.reports {
            Some(reports) => reports.subscribe(),
            None => broadcast::channel(1).1,
        }
    }
}

impl Default for Board {
    /// Nothing was told yet.
    fn default() -> Self {
        Board::new(Snapshot::default())
    }
}

impl Board {
    /// A board with this sum.
    pub fn new(sum: Snapshot) -> Self {
        let reports = Some(broadcast::Sender::new(WAITING));
        Board {
            inner: Arc::new(Mutex::new(Inner { sum, reports })),
            sound: Arc::default(),
        }
    }

    /// A thread that died while it held the lock left the sum whole enough to show.
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Looks at the sum so far without copying it. Everything waits meanwhile.
    pub fn look<T>(&self, look: impl FnOnce(&Snapshot) -> T) -> T {
        look(&self.lock().sum)
    }

    /// Everything so far.
    pub fn snapshot(&self) -> Snapshot {
        self.look(Snapshot::clone)
    }

    /// Tells a report. Sum and queues change together, so that [`Board::join`] misses
    /// nothing and gets nothing twice.
    pub fn tell(&self, report: Report) {
        let mut inner = self.lock();
        inner.sum.take(&report);
        if let Some(reports) = &inner.reports {
            // No subscriber is no error.
            let _ = reports.send(Arc::new(report));
        }
    }

    /// Everything so far, and a queue with everything from here on: nothing is missing between
    /// the two and nothing comes twice.
    pub fn join(&self) -> (Snapshot, Subscription) {
        let inner = self.lock();
        (inner.sum.clone(), Subscription::new(inner.queue()))
    }

    /// As [`Board::join`], with [`Snapshot::latest`] in the place of everything.
    pub fn join_latest(&self, span_s: f64) -> (Snapshot, Subscription) {
        let mut inner = self.lock();
        let queue = inner.queue();
        (inner.sum.latest(span_s), Subscription::new(queue))
    }

    /// A queue with everything from here on.
    pub fn follow(&self) -> Subscription {
        Subscription::new(self.lock().queue())
    }

    /// Gives sound to who listens, at so many samples a second, Hz.
    pub(crate) fn give(&self, rate: u32, samples: &[f32]) {
        self.sound.give(rate, samples);
    }

    /// The sound from here on.
    pub fn ear(&self) -> Ear {
        self.sound.ear()
    }

    /// Whether it is the same board.
    pub fn is(&self, other: &Board) -> bool {
        Arc::ptr_eq(&self.inner, &other.inner)
    }

    /// All is told: subscriptions end.
    pub fn close(&self) {
        self.lock().reports = None;
    }
}
