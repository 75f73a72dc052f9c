//! Queues of reports, one per subscriber.

use crate::report::Report;
use std::sync::Arc;
use tokio::sync::broadcast::{Receiver, error::RecvError, error::TryRecvError};

/// Reports that wait for a slow subscriber: about half a minute of pictures.
pub(crate) const WAITING: usize = 1024;

/// What a subscriber gets.
#[derive(Clone, Debug)]
pub enum Delivery {
    /// The next report.
    Report(Arc<Report>),
    /// The subscriber was too slow and so many reports are lost to it: it takes a new
    /// [`crate::Snapshot`] with [`crate::Board::join`].
    Missed(u64),
}

/// A subscriber's own queue. However slow it is, nobody else waits.
#[derive(Debug)]
pub struct Subscription {
    queue: Receiver<Arc<Report>>,
}

impl Subscription {
    pub(crate) fn new(queue: Receiver<Arc<Report>>) -> Self {
        Subscription { queue }
    }

    /// Waits for the next report; `None` when there will be no more.
    pub async fn next(&mut self) -> Option<Delivery> {
        delivery(self.queue.recv().await)
    }

    /// The same for a thread that may be blocked. Not to be called in an async task.
    pub fn wait(&mut self) -> Option<Delivery> {
        delivery(self.queue.blocking_recv())
    }

    /// The next report if there is one already.
    pub fn poll(&mut self) -> Option<Delivery> {
        match self.queue.try_recv() {
            Ok(report) => Some(Delivery::Report(report)),
            Err(TryRecvError::Lagged(count)) => Some(Delivery::Missed(count)),
            Err(TryRecvError::Empty | TryRecvError::Closed) => None,
        }
    }
}

fn delivery(received: Result<Arc<Report>, RecvError>) -> Option<Delivery> {
    match received {
        Ok(report) => Some(Delivery::Report(report)),
        Err(RecvError::Lagged(count)) => Some(Delivery::Missed(count)),
        Err(RecvError::Closed) => None,
    }
}
