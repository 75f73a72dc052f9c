//! Who holds the transmitter, and for how long.

use super::draft::{Draft, Pace, Typing};
use super::went::Went;
use super::{Air, Answer, AnswerState, CONFIRMED, Hand, KeyboardState, OWN, SILENCE};
use markhold_event::SentLine;
use markhold_wire::transmit::{
    Arming, Ended, OffSwitch, Over, Transmitter, TransmitterPlan, Writer,
};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::{Duration, Instant};

/// Between two looks at who armed it, and two reports.
const LOOK: Duration = Duration::from_millis(100);

/// Where its state is told.
type Tell = Arc<dyn Fn(&AnswerState) + Send + Sync>;

/// Where it is told what goes out.
type TellSent = Arc<dyn Fn(SentLine) + Send + Sync>;

/// Answering: off, or held by one hand. Dropping it unkeys.
pub struct Answering(Arc<Inner>);

struct Inner {
    // Configured.
    air: Arc<dyn Air>,
    tell: Tell,
    tell_sent: TellSent,
    // State.
    draft: Arc<Mutex<Draft>>,
    held: Mutex<Option<Held>>,
    words: Mutex<Option<String>>,
    keyboard: Mutex<Option<KeyboardState>>,
    told: Mutex<AnswerState>,
    /// When a hand was told last who is on its tones.
    doubted: Mutex<Option<(Hand, Instant)>>,
    /// When the last over ended.
    over_at: Mutex<Option<Instant>>,
    /// Number of the next line that is sent.
    next_line: Mutex<u64>,
}

/// The transmitter while it is armed.
struct Held {
    hand: Hand,
    plan: TransmitterPlan,
    arming: Arming,
    off: OffSwitch,
    on_the_air: Arc<AtomicBool>,
    /// Begins an over; the thread ends when it is dropped, and the transmitter with it.
    go: SyncSender<()>,
    /// When its hand said last that it is there.
    heard: Instant,
    /// What is sent again and again.
    tape: Option<Tape>,
}

/// A loop of tape.
struct Tape {
    text: String,
    pause: Duration,
    /// Since when the over before is over.
    since: Instant,
}

impl Answering {
    /// Off. How it stands is told through `tell`, each line as it goes out through `tell_sent`.
    pub fn new(air: Arc<dyn Air>, tell: Tell, tell_sent: TellSent) -> Self {
        Answering(Arc::new(Inner {
            air,
            tell,
            tell_sent,
            draft: Arc::default(),
            held: Mutex::default(),
            words: Mutex::default(),
            keyboard: Mutex::default(),
            told: Mutex::default(),
            doubted: Mutex::default(),
            over_at: Mutex::default(),
            next_line: Mutex::default(),
        }))
    }

    /// How it stands.
    pub fn state(&self) -> AnswerState {
        self.0.state()
    }

    /// Does what a hand asks. May take a moment.
    ///
    /// # Errors
    ///
    /// Why it cannot be, in words.
    pub fn ask(&self, hand: Hand, answer: &Answer) -> Result<(), String> {
        let inner = &self.0;
        let done = match answer {
            Answer::Arm { call, minutes } => self.arm(hand, call, *minutes),
            Answer::Here => inner.with(hand, |held| held.heard = Instant::now()),
            Answer::Write { gone, typed, text } => {
                inner.with(hand, |held| held.tape = None)?;
                lock(&inner.draft).write(*gone, *typed, text)
            }
            Answer::Loop { text, pause_s } => inner.begin_loop(hand, text, *pause_s),
            Answer::Go => inner.go(hand, Pace::Go),
            Answer::GoAndEnd => inner.go(hand, Pace::Ends),
            Answer::Pause => inner.pace(hand, Pace::Pause),
            Answer::Finish => inner.pace(hand, Pace::Finish),
            Answer::Disarm | Answer::Stop => {
                inner.with(hand, |_| ())?;
                inner.off("it was turned off");
                Ok(())
            }
        };
        inner.tell_changed();
        done
    }

    /// Asked before an over begins: `heard` says who is on these tones, Hz, or beside them. Who
    /// was told and asks again means it.
    ///
    /// # Errors
    ///
    /// Somebody is there, in words.
    pub fn listen_first(
        &self,
        hand: Hand,
        heard: impl FnOnce(f64, f64) -> Option<String>,
    ) -> Result<(), String> {
        let inner = &self.0;
        let Some(who) = inner.who_is_there(hand, heard) else {
            return Ok(());
        };
        let now = Instant::now();
        let before = lock(&inner.doubted).replace((hand, now));
        match before {
            Some((one, at)) if one == hand && now - at < CONFIRMED => Ok(()),
            _ => Err(format!(
                "{who} is there just now; ask again within {} s to send all the same",
                CONFIRMED.as_secs()
            )),
        }
    }

    /// A hand is gone: what it armed is off.
    pub fn leave(&self, hand: Hand) {
        let own = |held: &mut Held| held.hand == hand;
        self.0.off_where(own, "the page that armed it was closed");
        self.0.tell_changed();
    }

    /// Whether anybody has armed it.
    pub fn is_armed(&self) -> bool {
        lock(&self.0.held).is_some()
    }

    /// Somebody at the machine typed this: it waits behind all else if a person has armed the
    /// transmitter, and is dropped if nobody has. With `begins` an over begins with it.
    ///
    /// # Errors
    ///
    /// Why it does not wait, in words.
    pub fn typed(&self, text: &str, begins: bool) -> Result<(), String> {
        let inner = &self.0;
        let hand = {
            let mut held = lock(&inner.held);
            let held = held.as_mut().ok_or("it is not armed")?;
            held.tape = None;
            lock(&inner.draft).typed(text)?;
            let idle = !held.on_the_air.load(Ordering::SeqCst);
            (begins && idle).then_some(held.hand)
        };
        if let Some(hand) = hand {
            inner.go(hand, Pace::Go)?;
        }
        inner.tell_changed();
        Ok(())
    }

    /// Whoever is at the machine wants it to stop: unkeyed at once, and off.
    pub fn broken(&self) {
        self.0.off("a break on the machine's keyboard stopped it");
        self.0.tell_changed();
    }

    /// How the machine's keyboard stands.
    pub fn keyboard(&self, state: &KeyboardState) {
        *lock(&self.0.keyboard) = Some(state.clone());
        self.0.tell_changed();
    }

    /// Off, whoever holds it.
    pub fn stop(&self) {
        self.0.off("the station has ended");
    }

    fn arm(&self, hand: Hand, call: &str, minutes: f64) -> Result<(), String> {
        let inner = &self.0;
        if !(0.5..=60.0).contains(&minutes) {
            return Err(format!(
                "it can be armed for 0.5 to 60 minutes, not {minutes}"
            ));
        }
        let plan = inner.air.plan()?;
        let own = plan.call.as_deref();
        let own = own.ok_or("no call is set, and without one nothing is sent")?;
        if !call.trim().eq_ignore_ascii_case(own) {
            return Err(format!("it is armed by typing the call {own}"));
        }
        let lasts = Duration::from_secs_f64(60.0 * minutes);
        let mut held = lock(&inner.held);
        if let Some(held) = held.as_mut() {
            if held.hand != hand {
                return Err("another page has armed it; it must let go first".into());
            }
            held.arming.arm(lasts);
            return Ok(());
        }
        // Nobody else may begin meanwhile: the lock is kept.
        let transmitter = inner.air.open(&plan).map_err(|error| error.to_string())?;
        *held = Some(Inner::hold(inner, hand, plan, transmitter, lasts)?);
        drop(held);
        *lock(&inner.words) = None;
        let watched = Arc::downgrade(inner);
        let thread = std::thread::Builder::new().name("answering".into());
        let watch = thread.spawn(move || watch(&watched));
        watch.map(drop).map_err(|error| {
            inner.off("the system gives no thread");
            error.to_string()
        })
    }
}

impl Drop for Answering {
    fn drop(&mut self) {
        self.stop();
    }
}

/// A thread that died while it held the lock left all of it whole enough to go on.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Looks after what is armed until it is off.
fn watch(inner: &Weak<Inner>) {
    while let Some(inner) = inner.upgrade() {
        let look = |held: &Held| (held.heard.elapsed() > SILENCE, held.arming.left());
        let found = lock(&inner.held).as_ref().map(look);
        match found {
            None => return inner.tell_changed(),
            Some((true, _)) => inner.off("the page that armed it fell silent"),
            Some((_, None)) => inner.off("the time it was armed for has ended"),
            Some(_) => inner.turn_tape(),
        }
        inner.tell_changed();
        drop(inner);
        std::thread::sleep(LOOK);
    }
}

impl Inner {
    fn hold(
        inner: &Arc<Self>,
        hand: Hand,
        plan: TransmitterPlan,
        transmitter: Transmitter,
        lasts: Duration,
    ) -> Result<Held, String> {
        let (go, gone) = sync_channel(1);
        let (arming, off) = (Arming::new(), transmitter.off_switch());
        let on_the_air = Arc::new(AtomicBool::new(false));
        let overs = Overs {
            inner: Arc::downgrade(inner),
            draft: Arc::clone(&inner.draft),
            plan: plan.clone(),
            arming: arming.clone(),
            on_the_air: Arc::clone(&on_the_air),
        };
        let thread = std::thread::Builder::new().name("over".into());
        let thread = thread.spawn(move || overs.run(transmitter, &gone));
        thread.map_err(|error| error.to_string())?;
        arming.arm(lasts);
        Ok(Held {
            hand,
            plan,
            arming,
            off,
            on_the_air,
            go,
            heard: Instant::now(),
            tape: None,
        })
    }

    /// Does something as the hand that holds it, who is there.
    fn with<T>(&self, hand: Hand, what: impl FnOnce(&mut Held) -> T) -> Result<T, String> {
        match lock(&self.held).as_mut() {
            Some(held) if held.hand == hand => Ok(what(held)),
            Some(_) => Err("another page has armed it".into()),
            None => Err("it is not armed".into()),
        }
    }

    /// Who is on the tones of an over that this hand would begin.
    fn who_is_there(
        &self,
        hand: Hand,
        heard: impl FnOnce(f64, f64) -> Option<String>,
    ) -> Option<String> {
        let tones = self.with(hand, |held| {
            let idle = !held.on_the_air.load(Ordering::SeqCst);
            let lower_hz = held.plan.lower_hz;
            idle.then_some((lower_hz, lower_hz + held.plan.shift_hz))
        });
        let (lower_hz, upper_hz) = tones.ok().flatten()?;
        let own = |at: &mut Instant| at.elapsed() < OWN;
        let own = lock(&self.over_at).as_mut().is_some_and(own);
        heard(lower_hz, upper_hz).filter(|_| !own)
    }

    /// Begins an over, or goes on with one.
    fn go(&self, hand: Hand, pace: Pace) -> Result<(), String> {
        self.with(hand, |held| {
            let mut draft = lock(&self.draft);
            if held.on_the_air.load(Ordering::SeqCst) {
                draft.pace = pace;
                return;
            }
            draft.begin(pace);
            // One that is about to begin need not be told twice.
            let _ = held.go.try_send(());
        })
    }

    /// Pausing and finishing end a loop as well.
    fn pace(&self, hand: Hand, pace: Pace) -> Result<(), String> {
        self.with(hand, |held| {
            held.tape = None;
            lock(&self.draft).pace = pace;
        })
    }

    fn begin_loop(&self, hand: Hand, text: &str, pause_s: f64) -> Result<(), String> {
        if !(1.0..=600.0).contains(&pause_s) {
            return Err(format!("a loop pauses for 1 to 600 s, not {pause_s}"));
        }
        if text.trim().is_empty() {
            return Err("there is nothing in the loop".into());
        }
        let gone = lock(&self.draft).gone;
        lock(&self.draft).write(gone, None, text)?;
        let pause = Duration::from_secs_f64(pause_s);
        self.with(hand, |held| {
            held.tape = Some(Tape {
                text: text.into(),
                pause,
                since: Instant::now(),
            });
        })?;
        self.go(hand, Pace::Ends)
    }

    /// Where a loop has come round, it is sent again.
    fn turn_tape(&self) {
        let mut held = lock(&self.held);
        let Some(Held {
            hand,
            tape: Some(tape),
            on_the_air,
            ..
        }) = held.as_mut()
        else {
            return;
        };
        let mut draft = lock(&self.draft);
        if on_the_air.load(Ordering::SeqCst) || !draft.waiting.is_empty() {
            tape.since = Instant::now();
            return;
        }
        if tape.since.elapsed() < tape.pause {
            return;
        }
        tape.since = Instant::now();
        let (hand, gone, text) = (*hand, draft.gone, tape.text.clone());
        let written = draft.write(gone, None, &text);
        drop(draft);
        drop(held);
        // It was written before, and whoever holds it may have let go meanwhile.
        if written.is_ok() {
            let _ = self.go(hand, Pace::Ends);
        }
    }

    /// Unkeys at once; what is armed is no more.
    fn off(&self, why: &str) {
        self.off_where(|_| true, why);
    }

    /// The same, if what is armed is meant.
    fn off_where(&self, is_meant: impl FnOnce(&mut Held) -> bool, why: &str) {
        let Some(held) = lock(&self.held).take_if(is_meant) else {
            return;
        };
        held.arming.disarm();
        let words = match held.off.off() {
            Ok(()) => format!("{why}; the transmitter is unkeyed"),
            Err(error) => error.to_string(),
        };
        *lock(&self.words) = Some(words);
    }

    fn state(&self) -> AnswerState {
        let held = lock(&self.held);
        let draft = lock(&self.draft);
        let own = held.as_ref().map(|held| held.plan.clone());
        let plan = own.or_else(|| self.air.plan().ok());
        let set = plan.as_ref().and_then(|plan| self.air.words(plan));
        let left = held.as_ref().and_then(|held| held.arming.left());
        AnswerState {
            set,
            call: plan.and_then(|plan| plan.call),
            armed_by: held.as_ref().map(|held| held.hand),
            left_s: left.unwrap_or_default().as_secs(),
            on_the_air: held
                .as_ref()
                .is_some_and(|held| held.on_the_air.load(Ordering::SeqCst)),
            paused: draft.pace == Pace::Pause,
            loops: held.as_ref().is_some_and(|held| held.tape.is_some()),
            gone: draft.gone,
            latest: draft.latest.iter().collect(),
            waiting: draft.waiting.iter().collect(),
            typed: draft.typed,
            keyboard: lock(&self.keyboard).clone(),
            words: lock(&self.words).clone(),
        }
    }

    fn tell_changed(&self) {
        let state = self.state();
        let mut told = lock(&self.told);
        if *told != state {
            told.clone_from(&state);
            (self.tell)(&state);
        }
    }
}

/// The thread that keys.
struct Overs {
    inner: Weak<Inner>,
    draft: Arc<Mutex<Draft>>,
    plan: TransmitterPlan,
    arming: Arming,
    on_the_air: Arc<AtomicBool>,
}

impl Overs {
    /// An over at each word, until nobody holds it any more or one ends badly.
    fn run(self, mut transmitter: Transmitter, go: &Receiver<()>) {
        for () in go {
            let text = Typing {
                draft: Arc::clone(&self.draft),
                longest_s: self.plan.longest_over_s,
            };
            let (Ok(writer), Some(inner)) = (Writer::new(&self.plan, text), self.inner.upgrade())
            else {
                break;
            };
            let mut next_line = lock(&inner.next_line);
            let tell = |line| (inner.tell_sent)(line);
            let mut went = Went::new(writer, self.plan.figures, *next_line, &tell);
            self.on_the_air.store(true, Ordering::SeqCst);
            let over = transmitter.over(&mut went, &self.arming);
            *next_line = went.finish(matches!(over.ended, Ended::Whole));
            drop(next_line);
            *lock(&inner.over_at) = Some(Instant::now());
            self.on_the_air.store(false, Ordering::SeqCst);
            if let Some(why) = bad(&over) {
                // It may be off already, and armed again by somebody else.
                let own = |held: &mut Held| Arc::ptr_eq(&held.on_the_air, &self.on_the_air);
                inner.off_where(own, &why);
                break;
            }
        }
    }
}

/// Why it must be off after this over.
fn bad(over: &Over) -> Option<String> {
    if let Err(error) = &over.unkeyed {
        return Some(error.to_string());
    }
    match &over.ended {
        Ended::Whole => None,
        Ended::TurnedOff => Some("it was turned off".into()),
        Ended::Disarmed => Some("the time it was armed for has ended".into()),
        Ended::TooLong => Some("the over was cut off at the longest over".into()),
        Ended::Failed(error) => Some(error.to_string()),
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
