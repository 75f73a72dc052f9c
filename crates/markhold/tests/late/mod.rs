//! How late this computer is: a thread that only sleeps, and by how much it slept too long. A
//! time that a busy computer takes is none of what a program promises.
#![allow(
    missing_docs,
    dead_code,
    reason = "tests and a bench, each uses its own part"
)]

use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long it sleeps at a time.
const SLEEP: Duration = Duration::from_millis(5);

/// Sleeps that are remembered: some minutes.
const KEPT: usize = 60_000;

/// Watches how late the computer is.
pub struct Late {
    slept: Arc<Mutex<VecDeque<(Instant, Duration)>>>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Late {
    pub fn new() -> Self {
        let slept = Arc::new(Mutex::new(VecDeque::new()));
        let over = Arc::new(AtomicBool::new(false));
        let (remembers, ends) = (Arc::clone(&slept), Arc::clone(&over));
        let thread = std::thread::spawn(move || {
            while !ends.load(SeqCst) {
                let begun = Instant::now();
                std::thread::sleep(SLEEP);
                let late = begun.elapsed().saturating_sub(SLEEP);
                let mut slept = remembers.lock().unwrap();
                slept.push_back((Instant::now(), late));
                let over = slept.len().saturating_sub(KEPT);
                slept.drain(..over);
            }
        });
        Late {
            slept,
            over,
            thread: Some(thread),
        }
    }

    /// By how much it was late at most since then.
    pub fn since(&self, begin: Instant) -> Duration {
        // A sleep that lasts too long just now is over soon.
        std::thread::sleep(2 * SLEEP);
        let slept = self.slept.lock().unwrap();
        let since = slept.iter().rev().take_while(|(at, _)| *at >= begin);
        since.map(|(_, late)| *late).max().unwrap_or_default()
    }
}

impl Drop for Late {
    fn drop(&mut self) {
        self.over.store(true, SeqCst);
        let _ = self.thread.take().map(JoinHandle::join);
    }
}
