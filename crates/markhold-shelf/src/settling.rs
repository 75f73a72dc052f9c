//! Puts files on the disk itself, on a thread of its own: while a disk takes its time for that,
//! sound is handed to the system as before, where a kill does not reach it.

use std::collections::VecDeque;
use std::io;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Puts on the disk itself what was handed to the system; from whichever thread.
pub type Settle = Box<dyn FnOnce() -> io::Result<()> + Send>;

/// What waits for the disk, and how it went.
#[derive(Default)]
struct Due {
    jobs: VecDeque<Settle>,
    /// Since when there has been something to do; `None` while there is not.
    since: Option<Instant>,
    /// The first error since it was last asked for.
    trouble: Option<io::Error>,
    finish: bool,
}

#[derive(Default)]
struct Desk {
    due: Mutex<Due>,
    bell: Condvar,
}

impl Desk {
    fn due(&self) -> MutexGuard<'_, Due> {
        self.due.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait_while(&self, wait: impl FnMut(&mut Due) -> bool) -> MutexGuard<'_, Due> {
        let waited = self.bell.wait_while(self.due(), wait);
        waited.unwrap_or_else(PoisonError::into_inner)
    }

    /// Does what is due, in order, until there is an end of it.
    fn work(&self) {
        loop {
            let mut due = self.wait_while(|due| due.jobs.is_empty() && !due.finish);
            let Some(job) = due.jobs.pop_front() else {
                return;
            };
            drop(due);
            let done = job();
            let mut due = self.due();
            if let Err(error) = done {
                due.trouble.get_or_insert(error);
            }
            if due.jobs.is_empty() {
                due.since = None;
                self.bell.notify_all();
            }
        }
    }
}

/// The thread and what waits for it.
pub(super) struct Settling {
    desk: Arc<Desk>,
    /// `None` where the system gave no thread: then the caller waits for the disk.
    thread: Option<JoinHandle<()>>,
}

impl Settling {
    pub(super) fn begin() -> Self {
        let desk = Arc::new(Desk::default());
        let works = Arc::clone(&desk);
        let named = std::thread::Builder::new().name("settling".to_string());
        let thread = named.spawn(move || works.work()).ok();
        Settling { desk, thread }
    }

    /// Has these done after those before them.
    pub(super) fn put(&self, jobs: impl IntoIterator<Item = Settle>) {
        let mut due = self.desk.due();
        due.jobs.extend(jobs);
        if due.jobs.is_empty() {
            return;
        }
        due.since.get_or_insert_with(Instant::now);
        due.finish |= self.thread.is_none();
        drop(due);
        match self.thread {
            Some(_) => self.desk.bell.notify_all(),
            None => self.desk.work(),
        }
    }

    /// For how long something has been waiting for the disk without a break.
    pub(super) fn behind(&self) -> Option<Duration> {
        self.desk.due().since.map(|since| since.elapsed())
    }

    /// What went wrong since this was last asked.
    pub(super) fn trouble(&self) -> Option<io::Error> {
        self.desk.due().trouble.take()
    }

    /// Waits until all of it is done.
    pub(super) fn wait(&self) {
        let ended = |due: &Due| due.since.is_none();
        drop(self.desk.wait_while(|due| !ended(due)));
    }
}

impl Drop for Settling {
    fn drop(&mut self) {
        self.desk.due().finish = true;
        self.desk.bell.notify_all();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::channel;

    #[test]
    fn all_is_done_in_order_and_nobody_waits_for_it() {
        let settling = Settling::begin();
        let (go, wait) = channel::<()>();
        let (done, order) = channel();
        let held: Settle = Box::new(move || wait.recv().map_err(io::Error::other));
        let job = |k: u32| -> Settle {
            let done = done.clone();
            Box::new(move || done.send(k).map_err(io::Error::other))
        };
        settling.put([held, job(1)]);
        settling.put([job(2)]);
        assert!(settling.behind().is_some() && order.try_recv().is_err());
        go.send(()).unwrap();
        settling.wait();
        assert_eq!(order.try_iter().collect::<Vec<_>>(), [1, 2]);
        assert!(settling.behind().is_none() && settling.trouble().is_none());
        settling.put([]);
        assert!(settling.behind().is_none());
    }

    #[test]
    fn trouble_is_told_once_and_the_rest_is_done() {
        let settling = Settling::begin();
        let (done, order) = channel();
        let bad = |why: &'static str| -> Settle { Box::new(move || Err(io::Error::other(why))) };
        let good: Settle = Box::new(move || done.send(()).map_err(io::Error::other));
        settling.put([bad("first"), bad("second"), good]);
        settling.wait();
        assert_eq!(settling.trouble().unwrap().to_string(), "first");
        assert!(settling.trouble().is_none() && order.try_recv().is_ok());
    }

    #[test]
    fn what_is_due_at_the_end_is_done() {
        let (done, order) = channel();
        let settling = Settling::begin();
        settling.put((0..50).map(|k| -> Settle {
            let done = done.clone();
            Box::new(move || done.send(k).map_err(io::Error::other))
        }));
        drop(settling);
        assert_eq!(order.try_iter().count(), 50);
    }
}
