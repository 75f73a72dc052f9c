//! Plays orders on a way to a machine's line, in a thread of its own.

use super::PaperRecord;
use super::queue::{Next, Queue};
use crate::{Keyer, KeyerError};
use markhold_page::{Order, Ordered};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Longest mark held in one call, s, so that a cancelled hold ends soon: about a character.
const PIECE_S: f64 = 0.15;

/// How long the player waits for what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patience {
    /// Between two attempts to open a way that was lost.
    pub retry: Duration,
    /// Mark held when the way is back while the motor should run, s: the motor may have
    /// stopped with it.
    pub run_up_s: f64,
}

/// What happened on the way to the machine.
#[derive(Debug)]
pub enum News {
    /// The way was lost; it is tried again and again. What waits is kept.
    Lost(KeyerError),
    /// The way is open again; playing goes on with the order that failed.
    Back,
    /// Nothing but another setting can mend this; playing has ended.
    Ended(KeyerError),
    /// The record of what went to paper could not be written. Playing goes on.
    NotRecorded(std::io::Error),
}

/// What the thread shows while it works.
#[derive(Debug, Default)]
struct Gauges {
    open: AtomicBool,
    motor: AtomicBool,
    sent: AtomicU64,
}

/// A thread that plays orders. Dropping it cancels what has not been played.
#[derive(Debug)]
pub struct Player {
    queue: Arc<Queue>,
    gauges: Arc<Gauges>,
    news: Mutex<mpsc::Receiver<News>>,
    thread: Option<JoinHandle<Vec<Ordered>>>,
}

impl Player {
    /// Opens the way, then plays on it. `open` is called again after the way was lost.
    ///
    /// # Errors
    ///
    /// That of the first `open`.
    pub fn start<K, O>(
        mut open: O,
        record: Option<PaperRecord>,
        patience: Patience,
    ) -> Result<Player, KeyerError>
    where
        K: Keyer + 'static,
        O: FnMut() -> Result<K, KeyerError> + Send + 'static,
    {
        let keyer = open()?;
        Ok(Self::begin(Some(keyer), open, record, patience))
    }

    /// As [`Player::start`], without waiting for the way: it is opened by the thread, and
    /// one that is not there yet is news and is tried again and again.
    pub fn attend<K, O>(open: O, record: Option<PaperRecord>, patience: Patience) -> Player
    where
        K: Keyer + 'static,
        O: FnMut() -> Result<K, KeyerError> + Send + 'static,
    {
        Self::begin(None, open, record, patience)
    }

    fn begin<K, O>(
        keyer: Option<K>,
        open: O,
        record: Option<PaperRecord>,
        patience: Patience,
    ) -> Player
    where
        K: Keyer + 'static,
        O: FnMut() -> Result<K, KeyerError> + Send + 'static,
    {
        let queue = Arc::new(Queue::default());
        queue.set_away(keyer.is_none());
        let gauges = Arc::new(Gauges::default());
        gauges.open.store(keyer.is_some(), Ordering::Relaxed);
        let (tell, news) = mpsc::channel();
        let work = Work {
            open,
            patience,
            record,
            queue: Arc::clone(&queue),
            gauges: Arc::clone(&gauges),
            tell,
            keyer,
            motor: false,
            lost: None,
        };
        Player {
            queue,
            gauges,
            news: Mutex::new(news),
            thread: Some(thread::spawn(move || work.run())),
        }
    }

    /// Adds orders to what waits.
    pub fn play(&self, orders: &[Ordered]) {
        self.queue.push(orders);
    }

    /// Orders that have not been played yet, the one being played included.
    pub fn waiting(&self) -> usize {
        self.queue.len()
    }

    /// Codes that have not been sent yet.
    pub fn codes_waiting(&self) -> usize {
        self.queue.codes()
    }

    /// Codes sent so far.
    pub fn codes_sent(&self) -> u64 {
        self.gauges.sent.load(Ordering::Relaxed)
    }

    /// Whether the way is open.
    pub fn is_open(&self) -> bool {
        self.gauges.open.load(Ordering::Relaxed)
    }

    /// Whether the motor was switched on last.
    pub fn motor_runs(&self) -> bool {
        self.gauges.motor.load(Ordering::Relaxed)
    }

    /// What happened since the last call.
    pub fn news(&self) -> Vec<News> {
        let news = self.news.lock().unwrap_or_else(PoisonError::into_inner);
        news.try_iter().collect()
    }

    /// Drops what waits; returns when the line is in mark, within one character, or at once
    /// while the way is away. Gives the number of orders dropped. More may be played
    /// afterwards.
    pub fn cancel(&self) -> usize {
        self.queue.cancel()
    }

    /// As [`Player::cancel`], for good: only these orders are played afterwards, and whatever
    /// else is given is not.
    pub fn stop(&self, last: &[Ordered]) -> usize {
        self.queue.close(last)
    }

    /// Nothing more comes. [`Player::finish`] need not be waited for.
    pub fn end(&self) {
        self.queue.end();
    }

    /// Whether the thread has ended, because everything was played after [`Player::end`],
    /// or because nothing can be played any more.
    pub fn has_ended(&self) -> bool {
        self.thread.as_ref().is_none_or(JoinHandle::is_finished)
    }

    /// Waits until everything has been played and has left; gives what could not be played,
    /// usually nothing, and the last news.
    pub fn finish(mut self) -> (Vec<Ordered>, Vec<News>) {
        self.queue.end();
        let left = self.thread.take().and_then(|thread| thread.join().ok());
        (left.unwrap_or_default(), self.news())
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        if let Some(thread) = self.thread.take() {
            self.queue.cancel();
            self.queue.end();
            // A panic in a keyer was told on standard error already.
            let _ = thread.join();
        }
    }
}

/// What the thread holds.
struct Work<K, O> {
    // Configured.
    open: O,
    patience: Patience,
    record: Option<PaperRecord>,
    queue: Arc<Queue>,
    gauges: Arc<Gauges>,
    tell: mpsc::Sender<News>,
    // State.
    /// `None` while the way is lost.
    keyer: Option<K>,
    /// Whether the motor should run.
    motor: bool,
    /// What was told of the way that is lost.
    lost: Option<String>,
}

impl<K: Keyer, O: FnMut() -> Result<K, KeyerError>> Work<K, O> {
    /// Plays to the end; gives what could not be played.
    fn run(mut self) -> Vec<Ordered> {
        // However the thread ends, nobody may wait for it in vain.
        let queue = Arc::clone(&self.queue);
        let _stop = StopAtEnd(&queue);
        loop {
            // Without a way nothing is waited for but the way.
            let next = match &self.keyer {
                Some(_) => Some(queue.next()),
                None => queue.peek(),
            };
            let end = next == Some(Next::End);
            match self.step(next) {
                Ok(()) if end => break,
                Ok(()) => {}
                Err(error) if error.may_reopen() => self.lost(error),
                Err(error) => {
                    self.say(News::Ended(error));
                    break;
                }
            }
        }
        self.gauges.open.store(false, Ordering::Relaxed);
        queue.stop()
    }

    fn step(&mut self, next: Option<Next>) -> Result<(), KeyerError> {
        match next {
            Some(Next::Cancel) => self.cancel(),
            Some(Next::Play(ordered)) if self.keyer.is_some() => self.play(ordered),
            Some(Next::End) => self.keyer.as_mut().map_or(Ok(()), Keyer::finish),
            _ => self.reopen(),
        }
    }

    /// The way is gone. The same reason is told once.
    fn lost(&mut self, error: KeyerError) {
        self.keyer = None;
        self.queue.set_away(true);
        self.gauges.open.store(false, Ordering::Relaxed);
        let words = error.to_string();
        if self.lost.as_ref() != Some(&words) {
            self.lost = Some(words);
            self.say(News::Lost(error));
        }
    }

    fn play(&mut self, ordered: Ordered) -> Result<(), KeyerError> {
        let keyer = self.keyer.as_mut().expect("opened before");
        match ordered.order {
            Order::Hold(seconds) => return self.hold(seconds),
            Order::Motor(on) => {
                keyer.motor(on)?;
                self.motor = on;
                self.gauges.motor.store(on, Ordering::Relaxed);
            }
            Order::Send(code) => {
                keyer.send(code)?;
                self.gauges.sent.fetch_add(1, Ordering::Relaxed);
                let record = self.record.as_mut();
                if let Some(Err(error)) = record.map(|r| r.sent(code, ordered.source)) {
                    self.say(News::NotRecorded(error));
                }
            }
        }
        self.queue.played();
        Ok(())
    }

    /// Holds mark piece by piece, so that it can be cancelled, and resumed after an error.
    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        let keyer = self.keyer.as_mut().expect("opened before");
        let piece = seconds.min(PIECE_S);
        keyer.hold(piece)?;
        if seconds > PIECE_S {
            self.queue.left_to_hold(seconds - piece);
        } else {
            self.queue.played();
        }
        Ok(())
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        let result = self.keyer.as_mut().map_or(Ok(()), Keyer::cancel);
        self.queue.cancelled();
        result
    }

    /// Tries to open the way, again after a while.
    fn reopen(&mut self) -> Result<(), KeyerError> {
        if self.lost.is_some() {
            self.queue.pause(self.patience.retry);
        }
        if self.queue.is_cancelled() {
            return Ok(());
        }
        let mut keyer = (self.open)()?;
        if self.motor {
            keyer.motor(true)?;
            self.queue.push_front(Ordered {
                order: Order::Hold(self.patience.run_up_s),
                source: None,
            });
        }
        self.keyer = Some(keyer);
        self.queue.set_away(false);
        self.gauges.open.store(true, Ordering::Relaxed);
        if self.lost.take().is_some() {
            self.say(News::Back);
        }
        Ok(())
    }

    fn say(&self, news: News) {
        // Whoever does not listen is not told.
        let _ = self.tell.send(news);
    }
}

/// Frees whoever waits for a thread that has ended.
struct StopAtEnd<'a>(&'a Queue);

impl Drop for StopAtEnd<'_> {
    fn drop(&mut self) {
        self.0.stop();
    }
}
