//! The machine's own keyboard: what is typed on it goes into the text that waits.
//!
//! It never arms anything. What is typed while nobody has armed a transmitter is dropped at once,
//! so that nothing typed an hour ago waits for whoever arms it next. A break stops, whatever is
//! armed.

use markhold_wire::keyboard::{
    Echo, EchoIs, Heard, Judged, KeyboardLine, KeyboardPlan, Stroke, Typed, Typist, told,
};
use serde::Serialize;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Longest wait for a stroke: what ends the thread is looked at so often.
const LOOK: Duration = Duration::from_millis(50);
/// Between two attempts to open a way that is not there.
const RETRY: Duration = Duration::from_secs(1);

/// A keyboard, and what is sent to the machine in whose loop it is.
#[derive(Clone, Debug)]
pub struct KeyboardSetup {
    /// How it is heard.
    pub plan: KeyboardPlan,
    /// What was sent to the machine lately.
    pub echo: Echo,
}

/// How a keyboard stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct KeyboardState {
    /// The way from it, in words.
    pub way: String,
    /// Why it is not heard; `None` = it is.
    pub error: Option<String>,
    /// The line has been in space ever since a break: an open loop looks like that.
    pub open: bool,
    /// It will not be heard again: its file was read to its end, or another setting is needed.
    pub ended: bool,
    /// Characters that were typed and wait, or have gone.
    pub taken: u64,
    /// Characters that were typed while nobody had armed it.
    pub dropped: u64,
    /// Characters of the machine's own printing that came back and were left out.
    pub echoes: u64,
    /// Characters that came while the machine printed, or that were none.
    pub misread: u64,
}

/// What became of what was typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Took {
    /// It waits, or sending was stopped.
    Taken,
    /// Nobody has armed it, or too much waits.
    Dropped,
}

/// A thread that listens to a keyboard. Dropping it ends it.
pub struct Keyboard {
    ends: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Keyboard {
    /// Listens from here on. A way that is not there is waited for. What is typed is given to
    /// `take`, how it stands is told through `tell`.
    ///
    /// # Errors
    ///
    /// The system gives no thread, in words.
    pub fn attend(
        setup: KeyboardSetup,
        take: impl FnMut(&Typed) -> Took + Send + 'static,
        tell: impl FnMut(&KeyboardState) + Send + 'static,
    ) -> Result<Self, String> {
        let ends = Arc::new(AtomicBool::new(false));
        let way = setup.plan.way.as_ref().map(ToString::to_string);
        let mut listening = Listening {
            ends: Arc::clone(&ends),
            typist: setup.plan.typist(),
            state: KeyboardState {
                way: way.unwrap_or_default(),
                ..KeyboardState::default()
            },
            told: None,
            setup,
            take,
            tell,
        };
        let thread = std::thread::Builder::new().name("keyboard".into());
        let thread = thread.spawn(move || listening.run());
        Ok(Keyboard {
            ends,
            thread: Some(thread.map_err(|error| error.to_string())?),
        })
    }
}

impl Drop for Keyboard {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::SeqCst);
        let own = std::thread::current().id();
        // Whoever held the station last may be the thread itself, while it told something.
        if let Some(thread) = self.thread.take().filter(|it| it.thread().id() != own) {
            // A panic was told on standard error.
            let _ = thread.join();
        }
    }
}

/// What the thread holds.
struct Listening<T, S> {
    // Configured.
    setup: KeyboardSetup,
    ends: Arc<AtomicBool>,
    take: T,
    tell: S,
    // State.
    typist: Typist,
    state: KeyboardState,
    /// The state told last.
    told: Option<KeyboardState>,
}

impl<T: FnMut(&Typed) -> Took, S: FnMut(&KeyboardState)> Listening<T, S> {
    fn run(&mut self) {
        while !self.has_ended() {
            let error = match self.setup.plan.open() {
                Ok(mut line) => {
                    self.state.error = None;
                    self.listen(&mut *line)
                }
                Err(error) => Some(error),
            };
            let Some(error) = error else { return };
            self.state.error = Some(told(&error));
            (self.state.open, self.state.ended) = (false, !error.may_reopen());
            self.tell();
            if self.state.ended {
                return;
            }
            let until = Instant::now() + RETRY;
            while !self.has_ended() && Instant::now() < until {
                std::thread::sleep(LOOK);
            }
        }
    }

    /// Until it ends, or until the line does; why that was.
    fn listen(&mut self, line: &mut dyn KeyboardLine) -> Option<markhold_wire::KeyerError> {
        // Whoever was at the machine meanwhile left it in some shift; motors start in letters.
        self.typist = self.setup.plan.typist();
        while !self.has_ended() {
            match line.next(LOOK) {
                Ok(Some(heard)) => self.hear(&heard),
                Ok(None) => {}
                Err(error) => return Some(error),
            }
            self.state.open = line.is_open();
            self.tell();
        }
        None
    }

    fn hear(&mut self, heard: &Heard) {
        let judged = match self.setup.plan.echo {
            EchoIs::Suppressed => self.setup.echo.judge(heard),
            EchoIs::Wanted => Judged::Typed,
        };
        match (judged, heard.stroke) {
            (Judged::Echo, _) => self.state.echoes += 1,
            (Judged::Collided, _) | (_, Stroke::Misread) => self.state.misread += 1,
            (Judged::Typed, _) => {}
        }
        if let Some(typed) = self.typist.take(heard.stroke, judged) {
            let took = (self.take)(&typed);
            if let Typed::Text(text) = typed {
                let count = text.chars().count() as u64;
                match took {
                    Took::Taken => self.state.taken += count,
                    Took::Dropped => self.state.dropped += count,
                }
            }
        }
    }

    fn tell(&mut self) {
        if self.told.as_ref() != Some(&self.state) {
            self.told = Some(self.state.clone());
            (self.tell)(&self.state);
        }
    }

    fn has_ended(&self) -> bool {
        self.ends.load(Ordering::SeqCst)
    }
}
