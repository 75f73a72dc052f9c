//! Looks after the shelf in the background while an evening is kept: copies the archive once a
//! day, and copies again from the sound what a crash or a quick end cost. Nothing waits for it.

use super::notice::KeepNotice;
use super::shared::Shared;
use super::words::is_busy;
use super::{ShelfError, copies, mend, schema};
use rusqlite::InterruptHandle;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How long the evening's own beginning goes before.
const QUIET: Duration = Duration::from_secs(2);

/// How often it looks again: past midnight a new copy is due.
const AGAIN: Duration = Duration::from_secs(3600);

/// How often it looks whether it is to stop.
const LOOK: Duration = Duration::from_millis(50);

/// The thread that looks after the shelf. It is told to stop when this is dropped, and not
/// waited for.
pub(super) struct Caretaker {
    stop: Arc<Stop>,
}

#[derive(Default)]
struct Stop {
    asked: AtomicBool,
    /// Breaks off a copy that is being made.
    database: Mutex<Option<InterruptHandle>>,
}

impl Caretaker {
    pub(super) fn begin(place: &Path, shared: &Arc<Shared>) -> Self {
        let stop = Arc::new(Stop::default());
        let care = Care {
            place: place.to_path_buf(),
            shared: Arc::clone(shared),
            stop: Arc::clone(&stop),
        };
        // Without a thread there is no care this evening; the next start begins it again.
        let _ = std::thread::Builder::new()
            .name("caretaker".to_string())
            .spawn(move || care.run());
        Caretaker { stop }
    }
}

impl Drop for Caretaker {
    fn drop(&mut self) {
        self.stop.asked.store(true, Relaxed);
        let database = self.stop.database.lock();
        if let Some(handle) = database.unwrap_or_else(PoisonError::into_inner).as_ref() {
            handle.interrupt();
        }
    }
}

struct Care {
    place: PathBuf,
    shared: Arc<Shared>,
    stop: Arc<Stop>,
}

impl Care {
    fn run(self) {
        behind_everybody();
        self.sleep(QUIET);
        while !self.stop.asked.load(Relaxed) {
            // What fails is tried again in an hour or at the next start; the archive's own thread
            // says what is wrong with it.
            let _ = self.copy_archive();
            while let Ok(true) = self.mend() {}
            self.sleep(AGAIN);
        }
    }

    fn sleep(&self, time: Duration) {
        let begin = Instant::now();
        while begin.elapsed() < time && !self.stop.asked.load(Relaxed) {
            std::thread::sleep(LOOK);
        }
    }

    fn copy_archive(&self) -> Result<(), ShelfError> {
        let (archive, _copy) = schema::open_to_read(&self.place)?;
        let set = |handle| {
            let database = self.stop.database.lock();
            *database.unwrap_or_else(PoisonError::into_inner) = handle;
        };
        set(Some(archive.get_interrupt_handle()));
        let made = match self.stop.asked.load(Relaxed) {
            true => Ok(()),
            false => copies::make(&archive, &self.place),
        };
        set(None);
        made
    }

    /// Copies one evening again where that is due. Whether it did.
    fn mend(&self) -> Result<bool, ShelfError> {
        loop {
            let mended = mend::next(&self.place, &|| self.stop.asked.load(Relaxed));
            match mended {
                Ok(Some(mended)) => {
                    let (evening, length_s) = (mended.evening, mended.length_s);
                    self.shared
                        .notice(KeepNotice::CopiedAgain { evening, length_s });
                    return Ok(true);
                }
                Ok(None) => return Ok(false),
                Err(ShelfError::Database(error))
                    if is_busy(&error) && !self.stop.asked.load(Relaxed) =>
                {
                    self.sleep(QUIET);
                }
                Err(error) => return Err(error),
            }
        }
    }
}

/// Listening goes first where there is too little of the processor.
fn behind_everybody() {
    #[cfg(target_os = "linux")]
    {
        // On Linux a thread has a priority of its own, under its own number.
        let thread = rustix::thread::gettid();
        let _ = rustix::process::setpriority_process(Some(thread), 15);
    }
}
