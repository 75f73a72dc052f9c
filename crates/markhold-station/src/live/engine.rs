//! The handle of the live path, and its start and end.

use super::copying;
use super::options::LiveOptions;
use super::worker::{Order, Worker};
use crate::board::Board;
use crate::report::{InputReport, Report};
use crate::settings::InUse;
use crate::wish::WishError;
use markhold_event::SentLine;
use markhold_receive::SettingsError;
use markhold_shelf::KeepState;
use markhold_sound::Source;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long the copying thread is waited for once it was told to stop.
const LAST: Duration = Duration::from_secs(1);

/// The live path: two threads, and this handle to them.
///
/// Clones speak to the same threads. They end with [`Live::stop`], or when the last handle
/// is dropped; the end of a source does not end them, since another may be chosen.
#[derive(Clone)]
pub struct Live {
    board: Board,
    orders: Sender<Order>,
    /// What was asked for last, whether it is in force already or not: wishes that come one
    /// on the heels of the other add up.
    asked: Arc<Mutex<InUse>>,
    threads: Arc<Mutex<Vec<JoinHandle<()>>>>,
}

/// Nothing is heard or kept any more, by a fault of the program: that is no silence.
fn tell_fault(board: &Board) {
    let (at_s, keeping) = board.look(|sum| (sum.until_s, sum.keeping.clone()));
    let why = "a fault of this program ended the listening; end the program and start it again";
    let why = Some(why.into());
    board.tell(Report::Input(InputReport::Ended { at_s, why }));
    if let Some(KeepState { place, .. }) = keeping {
        board.tell(Report::Keeping(KeepState::failed(place)));
    }
}

impl Live {
    /// Begins to listen.
    ///
    /// # Errors
    ///
    /// A setting, or a rate of the source, that the receiver cannot work with.
    pub fn start(source: Box<dyn Source>, options: LiveOptions) -> Result<Self, SettingsError> {
        let board = options.board.clone();
        let in_use = board.look(|sum| sum.in_use);
        in_use.settings().check(f64::from(source.rate()))?;
        let asked = Arc::new(Mutex::new(in_use));
        let (orders, taken) = channel();
        let (copying, copier) = copying::start(board.clone(), in_use, options.learned.clone());
        let worker = Worker::new(copying, options);
        let told = board.clone();
        let sound = std::thread::Builder::new()
            .name("sound".into())
            .spawn(move || {
                let run = AssertUnwindSafe(|| worker.run(source, &taken));
                if catch_unwind(run).is_err() {
                    tell_fault(&told);
                }
            })
            .expect("the system gives a thread");
        let threads = Arc::new(Mutex::new(vec![sound, copier]));
        Ok(Live {
            board,
            orders,
            asked,
            threads,
        })
    }

    /// Where everything is told.
    pub fn board(&self) -> &Board {
        &self.board
    }

    /// Changes what is set. Each change begins from what was asked for last, in force already
    /// or not, so that none is lost, whoever else changes something at the same time.
    ///
    /// # Errors
    ///
    /// A value that cannot work, or that this has ended.
    pub fn change(
        &self,
        change: impl FnOnce(InUse) -> Result<InUse, WishError>,
    ) -> Result<(), WishError> {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let in_use = change(*asked)?;
        let rate = self.board.look(|sum| sum.rate);
        // Before the first sound the rate is not known; 8000 Hz then stands for it.
        let rate = if rate == 0 { 8000 } else { rate };
        in_use.settings().check(f64::from(rate))?;
        self.order(Order::Set(in_use))?;
        *asked = in_use;
        Ok(())
    }

    /// Listens to another source. What the one before gave is copied to its end first.
    ///
    /// # Errors
    ///
    /// A rate that the receiver cannot work with; the source before is kept then.
    pub fn listen_to(&self, source: Box<dyn Source>) -> Result<(), WishError> {
        let settings = self.board.look(|sum| sum.in_use).settings();
        settings.check(f64::from(source.rate()))?;
        self.order(Order::Source(source))
    }

    /// A line was sent from here, or has grown; `at_s` of it counts for nothing where it is new:
    /// it begins now.
    pub fn sent(&self, mut line: SentLine) {
        line.at_s = self.board.look(|sum| {
            let known = sum
                .sent
                .iter()
                .rev()
                .find(|known| known.number == line.number);
            known.map_or(sum.until_s, |known| known.at_s)
        });
        self.board.tell(Report::Sent(line.clone()));
        // After the end nothing is kept any more.
        let _ = self.order(Order::Sent(line));
    }

    fn order(&self, order: Order) -> Result<(), WishError> {
        self.orders.send(order).map_err(|_| WishError::Stopped)
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
