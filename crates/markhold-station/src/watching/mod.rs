//! Skeds looked after: what becomes of each is entered on the shelf, and an evening is begun for
//! it where nobody listens anyway.
//!
//! What is decided is [`markhold_skeds::watch`]'s business; here clock, skeds and what is heard
//! are carried there, and the entries to the shelf.

mod attendant;
mod bulletin;
mod bulletins;
mod dialling;
mod joining;
mod listening;
mod world;

pub use attendant::Attendant;
pub use dialling::DialKnown;
pub use listening::Listening;

use jiff::Timestamp;
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often it looks: within the half minute, with some to spare for a slow disk.
const EVERY: Duration = Duration::from_secs(20);
const _: () = assert!(EVERY.as_secs() <= 30);

/// Skeds looked after by a thread, until this is dropped.
pub struct Watching {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Watching {
    /// Begins. An evening that was begun for a sked ends with it.
    ///
    /// # Errors
    ///
    /// The system gives no thread.
    pub fn start(mut attendant: Attendant) -> std::io::Result<Self> {
        let (stop, stopped) = mpsc::channel();
        let watching = move || {
            let mut wait = Duration::ZERO;
            while let Err(RecvTimeoutError::Timeout) = stopped.recv_timeout(wait) {
                attendant.look(Timestamp::now());
                wait = EVERY;
            }
            attendant.end();
        };
        let thread = std::thread::Builder::new().name("skeds".into());
        Ok(Watching {
            stop: Some(stop),
            thread: Some(thread.spawn(watching)?),
        })
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            // One that died has said so by itself.
            let _ = thread.join();
        }
    }
}
