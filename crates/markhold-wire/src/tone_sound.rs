//! Tones on a sound output, for a terminal unit: mark sounds as long as the keyer is open.
//!
//! ```text
//! send -> orders -> worker: tones -> ring -> sound device's callback
//! ```
//!
//! The worker makes sound a tenth of a second ahead of the device and adds idle mark
//! when there is nothing to send, so the tone never stops and its phase never jumps.
//!
//! **Caution:** a terminal unit has the machine's loop at its other end (see
//! [`machine`](super)). Where the sound goes to a transmitter instead it is on the air:
//! your licence and its rules decide what may be sent, when and by whom.

use super::keyer::duration;
use super::{Keyer, KeyerError};
use markhold_code::{Code, StartStop, Stretch};
use markhold_signal::{ToneMaker, TonePlan};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Where samples go as they are played.
pub trait Sink: Send {
    /// Sampling rate, Hz.
    fn rate_hz(&self) -> f64;
    /// Samples that can be put now without waiting.
    fn room(&mut self) -> usize;
    /// Takes as many samples as there was room for.
    fn put(&mut self, samples: &[f32]);
    /// Time from putting a sample to hearing it, s, at most.
    fn delay_s(&self) -> f64;
    /// Samples that were not there in time so far: gaps in the sound.
    fn missing(&self) -> u64;
    /// Errors: the device is gone or plays nothing any more.
    fn check(&mut self) -> Result<(), KeyerError>;
}

/// How tones are used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToneSettings {
    /// The line's speed.
    pub speed: StartStop,
    /// The two tones.
    pub plan: TonePlan,
    /// Switches the tones off and on with the motor, for a terminal unit that runs the
    /// motor as long as it hears mark (autostart).
    pub autostart: bool,
}

enum Order {
    /// This line, and an answer when only so much of it, s, is still to be made.
    Line(Vec<Stretch>, f64),
    Cancel,
    /// Whether anything sounds.
    Sound(bool),
    /// Other tones from now on, while nothing sounds.
    Tones(TonePlan),
}

/// Keys tones on a sound output.
pub struct ToneSound {
    // Configured.
    settings: ToneSettings,
    // Derived.
    delay_s: f64,
    missing: Arc<AtomicU64>,
    orders: Option<SyncSender<Order>>,
    answers: Receiver<Result<(), KeyerError>>,
    thread: Option<JoinHandle<()>>,
}

impl ToneSound {
    /// Begins with idle mark. The sink is made on the worker's thread, for some sound
    /// systems keep a device to the thread that opened it.
    ///
    /// Errors: what `open` says; a tone that the sink's sampling rate cannot hold.
    pub fn start<S: Sink>(
        settings: ToneSettings,
        open: impl FnOnce() -> Result<S, KeyerError> + Send + 'static,
    ) -> Result<Self, KeyerError> {
        let (orders, received) = sync_channel(1);
        let (answer, answers) = sync_channel(1);
        let missing = Arc::new(AtomicU64::new(0));
        let shared = missing.clone();
        let (tell, told) = sync_channel::<Result<f64, KeyerError>>(1);
        let begin = move || -> Result<_, KeyerError> {
            let sink = open()?;
            let maker = ToneMaker::new(settings.plan, sink.rate_hz())?;
            Ok((sink, maker))
        };
        let thread = std::thread::Builder::new()
            .name("tones".into())
            .spawn(move || match begin() {
                Ok((sink, maker)) => {
                    let _ = tell.send(Ok(sink.delay_s()));
                    Worker::new(sink, maker, answer, shared).work(&received);
                }
                Err(error) => drop(tell.send(Err(error))),
            })
            .map_err(|source| KeyerError::Io {
                what: "the thread that makes tones".into(),
                source,
            })?;
        Ok(ToneSound {
            settings,
            missing,
            delay_s: told.recv().map_err(|_| gone())??,
            orders: Some(orders),
            answers,
            thread: Some(thread),
        })
    }

    /// Samples that were not ready when the device wanted them: gaps in the sound, which
    /// a terminal unit takes for static. More than none means the computer is too busy.
    pub fn missing(&self) -> u64 {
        self.missing.load(Ordering::Relaxed)
    }

    fn order(&mut self, order: Order) -> Result<(), KeyerError> {
        let orders = self.orders.as_ref().ok_or_else(gone)?;
        orders.send(order).map_err(|_| gone())?;
        self.answers.recv().map_err(|_| gone())?
    }

    fn mark(&mut self, length_s: f64) -> Result<(), KeyerError> {
        let mark = Stretch {
            mark: true,
            length_s,
        };
        self.order(Order::Line(vec![mark], 0.0))
    }
}

fn gone() -> KeyerError {
    KeyerError::PulledOut {
        what: "the sound output".into(),
    }
}

impl Keyer for ToneSound {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        self.line(&self.settings.speed.stretches(code))
    }

    fn line(&mut self, stretches: &[Stretch]) -> Result<(), KeyerError> {
        let last_s = stretches.last().map_or(0.0, |last| last.length_s);
        self.order(Order::Line(stretches.to_vec(), last_s))
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.mark(duration(seconds)?.as_secs_f64())
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        if self.settings.autostart {
            self.order(Order::Sound(on))
        } else {
            Ok(())
        }
    }

    fn tones(&mut self, plan: TonePlan) -> Result<(), KeyerError> {
        self.order(Order::Tones(plan))
    }

    /// Idle mark behind the last character pushes it out of the device.
    fn finish(&mut self) -> Result<(), KeyerError> {
        self.mark(self.delay_s)
    }

    /// What is in the device, about a tenth of a second, still sounds.
    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.order(Order::Cancel)
    }
}

impl Drop for ToneSound {
    /// Fades out.
    fn drop(&mut self) {
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Makes the sound.
struct Worker<S> {
    sink: S,
    maker: ToneMaker,
    answers: SyncSender<Result<(), KeyerError>>,
    missing: Arc<AtomicU64>,
    /// Line left to make, s, at which the order in hand is answered.
    answer_at_s: Option<f64>,
    sounding: bool,
    /// Takes the maker's place once that one has faded.
    next: Option<ToneMaker>,
}

impl<S: Sink> Worker<S> {
    /// Sound made at a time, s: short against an element.
    const BLOCK_S: f64 = 0.002;
    /// Time between looks at the ring, when it is full.
    const NAP: Duration = Duration::from_millis(2);

    fn new(
        sink: S,
        maker: ToneMaker,
        answers: SyncSender<Result<(), KeyerError>>,
        missing: Arc<AtomicU64>,
    ) -> Self {
        Worker {
            missing,
            sink,
            maker,
            answers,
            answer_at_s: None,
            sounding: true,
            next: None,
        }
    }

    fn work(mut self, orders: &Receiver<Order>) {
        let mut block = vec![0.0; (Self::BLOCK_S * self.sink.rate_hz()).ceil() as usize];
        loop {
            match orders.try_recv() {
                Ok(order) => self.take(order),
                Err(TryRecvError::Empty) => {}
                Err(TryRecvError::Disconnected) => return self.fade_out(&mut block),
            }
            let moved = self.sink.check().map(|()| self.move_on(&mut block));
            match moved {
                Ok(true) => {}
                Ok(false) => std::thread::sleep(Self::NAP),
                Err(error) => return self.give_up(error, orders),
            }
        }
    }

    fn take(&mut self, order: Order) {
        match order {
            Order::Line(stretches, answer_at_s) => {
                stretches.into_iter().for_each(|s| self.maker.push(s));
                self.answer_at_s = Some(answer_at_s);
            }
            Order::Cancel => {
                self.maker.cancel();
                self.answer_at_s = Some(f64::INFINITY);
            }
            Order::Sound(on) => {
                if self.sounding && !on {
                    self.maker.end();
                }
                self.sounding = on;
                self.answer_at_s = Some(f64::INFINITY);
            }
            Order::Tones(plan) => match self.other(plan) {
                Ok(next) => {
                    self.next = Some(next);
                    self.answer_at_s = Some(f64::INFINITY);
                }
                Err(error) => drop(self.answers.send(Err(error))),
            },
        }
    }

    /// A maker of other tones: in the middle of a tone its phase would jump.
    fn other(&self, plan: TonePlan) -> Result<ToneMaker, KeyerError> {
        if self.sounding {
            return Err(KeyerError::Setting {
                what: "the time for other tones",
                found: "while one sounds".into(),
                expected: "between two overs".into(),
            });
        }
        Ok(ToneMaker::new(plan, self.sink.rate_hz())?)
    }

    /// Moves one block if there is room for it, and answers when its time has come;
    /// whether there was room.
    fn move_on(&mut self, block: &mut [f32]) -> bool {
        let room = self.sink.room() >= block.len();
        if room {
            self.make(block);
            self.sink.put(block);
            self.missing.store(self.sink.missing(), Ordering::Relaxed);
        }
        // Less than a sample of line stays in the maker, and one more that idle mark adds to
        // fill its block.
        let left_s = self.maker.given_s() - 2.0 / self.sink.rate_hz();
        if self.next.is_none() && self.answer_at_s.is_some_and(|at_s| left_s <= at_s) {
            self.answer_at_s = None;
            let _ = self.answers.send(Ok(()));
        }
        room
    }

    /// What was given, then idle mark, or silence when nothing is to sound.
    fn make(&mut self, block: &mut [f32]) {
        let made = self.maker.fill(block);
        let rest = &mut block[made..];
        if rest.is_empty() {
            return;
        }
        if !self.sounding {
            if let Some(next) = self.next.take() {
                self.maker = next;
            }
            return rest.fill(0.0);
        }
        self.maker.push(Stretch {
            mark: true,
            length_s: (rest.len() + 1) as f64 / self.sink.rate_hz(),
        });
        self.maker.fill(rest);
    }

    fn fade_out(mut self, block: &mut [f32]) {
        if self.sounding {
            self.maker.end();
        }
        self.sounding = false;
        // As long as the ring holds sound, for it stops with the sink.
        let blocks = (self.sink.delay_s() / Self::BLOCK_S) as usize + 20;
        let mut naps = 0;
        for _ in 0..blocks {
            while self.sink.room() < block.len() && naps < 1000 {
                naps += 1;
                std::thread::sleep(Self::NAP);
            }
            if self.sink.room() < block.len() {
                return;
            }
            self.make(block);
            self.sink.put(block);
        }
    }

    /// Answers the order in hand, or the next one, with the error.
    fn give_up(mut self, error: KeyerError, orders: &Receiver<Order>) {
        if self.answer_at_s.take().is_some() || orders.recv().is_ok() {
            let _ = self.answers.send(Err(error));
        }
    }
}

#[cfg(test)]
#[path = "tone_sound_tests.rs"]
mod tests;
