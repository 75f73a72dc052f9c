//! Plays orders on a way to a machine's line, in a thread of its own.

use super::PaperRecord;
use super::queue::{Next, Queue};
use crate::machine::{Keyer, KeyerError};
use markhold_page::{Order, Ordered};
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

/// A thread that plays orders. Dropping it cancels what has not been played.
#[derive(Debug)]
pub struct Player {
    queue: Arc<Queue>,
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
        let queue = Arc::new(Queue::default());
        let (tell, news) = mpsc::channel();
        let work = Work {
            open,
            patience,
            record,
            queue: Arc::clone(&queue),
            tell,
            keyer: Some(keyer),
            motor: false,
        };
        Ok(Player {
            queue,
            news: Mutex::new(news),
            thread: Some(thread::spawn(move || work.run())),
        })
    }

    /// Adds orders to what waits.
    pub fn play(&self, orders: &[Ordered]) {
        self.queue.push(orders);
    }

    /// Orders that have not been played yet, the one being played included.
    pub fn waiting(&self) -> usize {
        self.queue.len()
    }

    /// What happened since the last call.
    pub fn news(&self) -> Vec<News> {
        let news = self.news.lock().unwrap_or_else(PoisonError::into_inner);
        news.try_iter().collect()
    }

    /// Drops what waits; returns when the line is in mark, within one character. Gives the
    /// number of orders dropped. More may be played afterwards.
    pub fn cancel(&self) -> usize {
        self.queue.cancel()
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
    tell: mpsc::Sender<News>,
    // State.
    /// `None` while the way is lost.
    keyer: Option<K>,
    /// Whether the motor should run.
    motor: bool,
}

impl<K: Keyer, O: FnMut() -> Result<K, KeyerError>> Work<K, O> {
    /// Plays to the end; gives what could not be played.
    fn run(mut self) -> Vec<Ordered> {
        // However the thread ends, nobody may wait for it in vain.
        let queue = Arc::clone(&self.queue);
        let _stop = StopAtEnd(&queue);
        loop {
            let next = self.queue.next();
            let end = next == Next::End;
            let result = self.step(next);
            let error = match result {
                Ok(()) if end => break,
                Ok(()) => continue,
                Err(error) => error,
            };
            self.keyer = None;
            let mends = error.may_reopen();
            self.say(if mends {
                News::Lost(error)
            } else {
                News::Ended(error)
            });
            if !mends {
                break;
            }
        }
        queue.stop()
    }

    fn step(&mut self, next: Next) -> Result<(), KeyerError> {
        match next {
            Next::Cancel => self.cancel(),
            Next::Play(ordered) => {
                if self.keyer.is_none() {
                    return self.reopen();
                }
                self.play(ordered)
            }
            Next::End => self.keyer.as_mut().map_or(Ok(()), Keyer::finish),
        }
    }

    fn play(&mut self, ordered: Ordered) -> Result<(), KeyerError> {
        let keyer = self.keyer.as_mut().expect("opened before");
        match ordered.order {
            Order::Hold(seconds) => return self.hold(seconds),
            Order::Motor(on) => {
                keyer.motor(on)?;
                self.motor = on;
            }
            Order::Send(code) => {
                keyer.send(code)?;
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

    /// Tries to open the way again.
    fn reopen(&mut self) -> Result<(), KeyerError> {
        self.queue.pause(self.patience.retry);
        if self.queue.is_cancelled() {
            return Ok(());
        }
        let mut keyer = match (self.open)() {
            Ok(keyer) => keyer,
            // Told once when it was lost; told again only if it never mends.
            Err(error) if error.may_reopen() => return Ok(()),
            Err(error) => return Err(error),
        };
        if self.motor {
            keyer.motor(true)?;
            self.queue.push_front(Ordered {
                order: Order::Hold(self.patience.run_up_s),
                source: None,
            });
        }
        self.keyer = Some(keyer);
        self.say(News::Back);
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
