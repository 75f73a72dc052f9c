//! The handle of the live path, and its start and end.

use super::board::{Board, Snapshot};
use super::clock::Clocks;
use super::command::{Command, CommandError, InUse};
use super::copying;
use super::keep::{KeepNothing, KeepSound};
use super::subscription::Subscription;
use super::worker::{Order, Worker};
use markhold_language::Learned;
use markhold_receive::SettingsError;
use markhold_sound::{Control, Source};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long the copying thread is waited for once it was told to stop.
const LAST: Duration = Duration::from_secs(1);

/// How to begin.
pub struct LiveOptions {
    /// What is set at the start.
    pub in_use: InUse,
    /// What the archive's own copy taught, if that is wanted.
    pub learned: Option<Arc<Learned>>,
    /// What keeps the raw sound.
    pub keeper: Box<dyn KeepSound>,
    /// The clocks; others only in tests.
    pub clocks: Clocks,
}

impl Default for LiveOptions {
    /// Finds everything, keeps nothing.
    fn default() -> Self {
        LiveOptions {
            in_use: InUse::default(),
            learned: None,
            keeper: Box::new(KeepNothing),
            clocks: Clocks::default(),
        }
    }
}

/// The live path: two threads, and this handle to them.
///
/// Clones speak to the same threads. They end with [`Live::stop`], or when the last handle
/// is dropped; the end of a source does not end them, since another may be chosen.
#[derive(Clone)]
pub struct Live {
    board: Arc<Board>,
    orders: Sender<Order>,
    /// What was asked for last, whether it is in force already or not: wishes that come one
    /// on the heels of the other add up.
    asked: Arc<Mutex<InUse>>,
    threads: Arc<Mutex<Vec<JoinHandle<()>>>>,
}

impl Live {
    /// Begins to listen.
    ///
    /// # Errors
    ///
    /// A setting, or a rate of the source, that the receiver cannot work with.
    pub fn start(source: Box<dyn Source>, options: LiveOptions) -> Result<Self, SettingsError> {
        options.in_use.settings().check(f64::from(source.rate()))?;
        let board = Arc::new(Board::new(options.in_use));
        let asked = Arc::new(Mutex::new(options.in_use));
        let (orders, taken) = channel();
        let (copying, copier) =
            copying::start(board.clone(), options.in_use, options.learned.clone());
        let worker = Worker::new(board.clone(), copying, options);
        let sound = std::thread::Builder::new()
            .name("sound".into())
            .spawn(move || worker.run(source, &taken))
            .expect("the system gives a thread");
        let threads = Arc::new(Mutex::new(vec![sound, copier]));
        Ok(Live {
            board,
            orders,
            asked,
            threads,
        })
    }

    /// Everything so far, enough to draw the page, and a queue with everything from here
    /// on: nothing is missing between the two and nothing comes twice.
    pub fn join(&self) -> (Snapshot, Subscription) {
        self.board.join()
    }

    /// A queue with everything from here on.
    pub fn subscribe(&self) -> Subscription {
        self.board.join().1
    }

    /// Everything so far.
    pub fn snapshot(&self) -> Snapshot {
        self.board.look(Snapshot::clone)
    }

    /// What is set.
    pub fn in_use(&self) -> InUse {
        self.board.look(|sum| sum.in_use)
    }

    /// Asks for something. What changes is told as a report. Each wish begins from what was
    /// asked for last, so that none is lost, whoever else asks at the same time.
    ///
    /// # Errors
    ///
    /// A value that cannot work; a source that cannot be turned.
    pub fn command(&self, command: Command) -> Result<(), CommandError> {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let mut in_use = *asked;
        match command {
            Command::Hold(hold) => in_use.hold = hold,
            Command::LetGo => in_use.hold = Default::default(),
            Command::Sideband(sideband) => in_use.sideband = sideband,
            Command::Target(target) => in_use.target = target,
            Command::Set(all) => in_use = all,
            Command::Change(patch) => {
                in_use = in_use.changed(&patch).map_err(CommandError::Change)?;
            }
            Command::Control(control) => {
                drop(asked);
                return self.control(control);
            }
        }
        let rate = self.board.look(|sum| sum.rate);
        // Before the first sound the rate is not known; 8000 Hz then stands for it.
        let rate = if rate == 0 { 8000 } else { rate };
        in_use.settings().check(f64::from(rate))?;
        self.order(Order::Set(in_use))?;
        *asked = in_use;
        Ok(())
    }

    fn control(&self, control: Control) -> Result<(), CommandError> {
        let (answer, answered) = channel();
        self.order(Order::Control(control, answer))?;
        let result = answered.recv().map_err(|_| CommandError::Stopped)?;
        result.map_err(CommandError::Control)
    }

    /// Listens to another source. What the one before gave is copied to its end first.
    ///
    /// # Errors
    ///
    /// A rate that the receiver cannot work with; the source before is kept then.
    pub fn listen_to(&self, source: Box<dyn Source>) -> Result<(), CommandError> {
        let settings = self.in_use().settings();
        settings.check(f64::from(source.rate()))?;
        self.order(Order::Source(source))
    }

    fn order(&self, order: Order) -> Result<(), CommandError> {
        self.orders.send(order).map_err(|_| CommandError::Stopped)
    }

    /// Ends: the sound is put on the disk, what was heard is copied to its end, and the keeper
    /// finishes. Waits for that, but only for some seconds: what is not copied by then is left
    /// to be copied again from the sound.
    pub fn stop(&self) {
        // They may have ended already.
        let _ = self.orders.send(Order::Stop);
        let mut threads = self.threads.lock().unwrap_or_else(PoisonError::into_inner);
        // The first is the sound thread; it waits for the copying as long as may be.
        for (k, thread) in threads.drain(..).enumerate() {
            // One long piece of work may still be going on; nobody needs it any more.
            let until = Instant::now() + LAST;
            while k > 0 && !thread.is_finished() && Instant::now() < until {
                std::thread::sleep(Duration::from_millis(5));
            }
            if k == 0 || thread.is_finished() {
                // A thread that panicked has said so on standard error.
                let _ = thread.join();
            }
        }
        self.board.close();
    }
}
