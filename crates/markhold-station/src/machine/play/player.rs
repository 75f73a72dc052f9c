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

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use markhold_code::Code;
    use markhold_page::Machine;

    /// What a keyer was told.
    #[derive(Clone, Debug, PartialEq)]
    enum Told {
        Open,
        Send(u8),
        Hold(f64),
        Motor(bool),
        Finish,
        Cancel,
    }

    /// What the keyers of one test share.
    #[derive(Default)]
    struct Bench {
        told: Mutex<Vec<Told>>,
        /// Calls of send that fail, counted from 0; and openings, counted from 0.
        failing_sends: Vec<usize>,
        failing_opens: Vec<usize>,
        counts: Mutex<(usize, usize)>,
        /// Each send waits for one of these, where there is a sender.
        go: Option<Mutex<mpsc::Receiver<()>>>,
        /// Says that a send has begun.
        begun: Option<Mutex<mpsc::Sender<()>>>,
    }

    struct FakeKeyer(Arc<Bench>);

    fn pulled_out() -> KeyerError {
        KeyerError::PulledOut {
            what: "the port".into(),
        }
    }

    impl FakeKeyer {
        fn open(bench: &Arc<Bench>) -> Result<FakeKeyer, KeyerError> {
            let mut counts = bench.counts.lock().unwrap();
            counts.1 += 1;
            if bench.failing_opens.contains(&(counts.1 - 1)) {
                return Err(pulled_out());
            }
            bench.told.lock().unwrap().push(Told::Open);
            Ok(FakeKeyer(Arc::clone(bench)))
        }

        fn tell(&self, told: Told) -> Result<(), KeyerError> {
            self.0.told.lock().unwrap().push(told);
            Ok(())
        }
    }

    impl Keyer for FakeKeyer {
        fn send(&mut self, code: Code) -> Result<(), KeyerError> {
            if let Some(begun) = &self.0.begun {
                begun.lock().unwrap().send(()).unwrap();
            }
            if let Some(go) = &self.0.go {
                go.lock().unwrap().recv().unwrap();
            }
            let mut counts = self.0.counts.lock().unwrap();
            counts.0 += 1;
            if self.0.failing_sends.contains(&(counts.0 - 1)) {
                return Err(pulled_out());
            }
            self.tell(Told::Send(code.value()))
        }

        fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
            self.tell(Told::Hold(seconds))
        }

        fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
            self.tell(Told::Motor(on))
        }

        fn finish(&mut self) -> Result<(), KeyerError> {
            self.tell(Told::Finish)
        }

        fn cancel(&mut self) -> Result<(), KeyerError> {
            self.tell(Told::Cancel)
        }
    }

    const PATIENCE: Patience = Patience {
        retry: Duration::from_millis(1),
        run_up_s: 0.1,
    };

    fn player(bench: &Arc<Bench>) -> Player {
        let bench = Arc::clone(bench);
        Player::start(move || FakeKeyer::open(&bench), None, PATIENCE).unwrap()
    }

    fn orders(orders: &[Order]) -> Vec<Ordered> {
        let plain = |&order| Ordered {
            order,
            source: None,
        };
        orders.iter().map(plain).collect()
    }

    fn send(value: u8) -> Order {
        Order::Send(Code::new(value).unwrap())
    }

    #[test]
    fn orders_are_played_in_order() {
        let bench = Arc::new(Bench::default());
        let player = player(&bench);
        player.play(&orders(&[Order::Motor(true), Order::Hold(0.1), send(1)]));
        player.play(&orders(&[send(2), Order::Motor(false)]));
        let (left, news) = player.finish();
        assert!(left.is_empty() && news.is_empty());
        use Told::*;
        let expected = [
            Open,
            Motor(true),
            Hold(0.1),
            Send(1),
            Send(2),
            Motor(false),
            Finish,
        ];
        assert_eq!(*bench.told.lock().unwrap(), expected);
    }

    /// The way fails in the third character and is away for two attempts: nothing is lost,
    /// nothing is sent twice, and the motor is started again.
    #[test]
    fn an_error_resumes_from_the_character_being_sent() {
        let bench = Arc::new(Bench {
            failing_sends: vec![2],
            failing_opens: vec![1, 2],
            ..Bench::default()
        });
        let player = player(&bench);
        let all = [Order::Motor(true), send(1), send(2), send(3), send(4)];
        player.play(&orders(&all));
        let (left, news) = player.finish();
        assert!(left.is_empty());
        assert!(matches!(news[..], [News::Lost(_), News::Back]), "{news:?}");
        use Told::*;
        let expected = [
            Open,
            Motor(true),
            Send(1),
            Send(2),
            Open,
            Motor(true),
            Hold(0.1),
            Send(3),
            Send(4),
            Finish,
        ];
        assert_eq!(*bench.told.lock().unwrap(), expected);
    }

    #[test]
    fn what_nothing_mends_ends_the_player_and_gives_back_what_is_left() {
        let bench = Arc::new(Bench::default());
        let player = player(&bench);
        player.play(&orders(&[send(1), Order::Hold(0.1), send(2)]));
        player.finish();
        let bad = |_: &Arc<Bench>| -> Result<FakeKeyer, KeyerError> {
            Err(KeyerError::Setting {
                what: "the speed",
                found: "0 baud".into(),
                expected: "more".into(),
            })
        };
        let mut first = true;
        let failing = Arc::new(Bench {
            failing_sends: vec![1],
            ..Bench::default()
        });
        let open = move || match std::mem::replace(&mut first, false) {
            true => FakeKeyer::open(&failing),
            false => bad(&failing),
        };
        let player = Player::start(open, None, PATIENCE).unwrap();
        player.play(&orders(&[send(1), send(2), send(3)]));
        let (left, news) = player.finish();
        assert_eq!(left, orders(&[send(2), send(3)]));
        assert!(
            matches!(news[..], [News::Lost(_), News::Ended(_)]),
            "{news:?}"
        );
    }

    /// The keyer is within a character when the player is cancelled: that character is the
    /// last one, the line goes to mark, and the player can be used again.
    #[test]
    fn cancelling_stops_within_a_character() {
        let (go, wait) = mpsc::channel();
        let (begun, has_begun) = mpsc::channel();
        let bench = Arc::new(Bench {
            go: Some(Mutex::new(wait)),
            begun: Some(Mutex::new(begun)),
            ..Bench::default()
        });
        let player = player(&bench);
        player.play(&orders(&[send(1), send(2), send(3)]));
        has_begun.recv().unwrap();
        thread::scope(|scope| {
            let cancelled = scope.spawn(|| player.cancel());
            while player.waiting() > 0 {
                thread::yield_now();
            }
            go.send(()).unwrap();
            assert_eq!(cancelled.join().unwrap(), 3);
        });
        assert_eq!(
            *bench.told.lock().unwrap(),
            [Told::Open, Told::Send(1), Told::Cancel]
        );
        player.play(&orders(&[send(4)]));
        go.send(()).unwrap();
        player.finish();
        assert_eq!(
            bench.told.lock().unwrap()[3..],
            [Told::Send(4), Told::Finish]
        );
    }

    #[test]
    fn a_hold_is_cut_into_pieces() {
        let bench = Arc::new(Bench::default());
        let player = player(&bench);
        player.play(&orders(&[Order::Hold(0.4)]));
        player.finish();
        let held: Vec<f64> = bench
            .told
            .lock()
            .unwrap()
            .iter()
            .filter_map(|told| match told {
                Told::Hold(seconds) => Some(*seconds),
                _ => None,
            })
            .collect();
        assert_eq!(held.len(), 3);
        assert!((held.iter().sum::<f64>() - 0.4).abs() < 1e-12, "{held:?}");
    }

    #[test]
    fn dropping_a_player_cancels() {
        let bench = Arc::new(Bench {
            failing_opens: (1..1_000_000).collect(),
            failing_sends: vec![0],
            ..Bench::default()
        });
        let player = player(&bench);
        player.play(&orders(&[send(1), send(2)]));
        while player.news().is_empty() {
            thread::yield_now();
        }
        drop(player);
        assert_eq!(*bench.told.lock().unwrap(), [Told::Open]);
    }

    #[test]
    fn what_was_sent_is_recorded_once() {
        let folder = tempfile::tempdir().unwrap();
        let clock = || -> Timestamp { "2026-03-21T19:30:00Z".parse().unwrap() };
        let record = PaperRecord::with_clock(folder.path(), &Machine::default(), clock).unwrap();
        let bench = Arc::new(Bench {
            failing_sends: vec![1],
            ..Bench::default()
        });
        let open = move || FakeKeyer::open(&bench);
        let player = Player::start(open, Some(record), PATIENCE).unwrap();
        player.play(&orders(&[send(3), send(1), Order::Hold(0.1), send(4)]));
        player.finish();
        let text = std::fs::read_to_string(folder.path().join("paper-2026-03-21.jsonl")).unwrap();
        let glyphs: Vec<&str> = text
            .lines()
            .filter_map(|l| l.split("\"glyph\":").nth(1)?.get(..3))
            .collect();
        assert_eq!(glyphs, ["\"A\"", "\"E\"", "\" \""]);
    }
}
