//! Who holds the transmitter, and for how long.

mod held;
mod rounds;
#[cfg(test)]
mod tests;

use super::aim::{Aimed, aimed};
use super::draft::Pace;
use super::ears::{Busy, Ears};
use super::hand::Doubt;
use super::overs::{Shared, TellSent};
use super::{
    Air, Answer, AnswerState, CONFIRMED, Hand, KeyboardState, LOOKED, SILENCE, STAYS, TonesState,
    lock,
};
use held::Held;
use markhold_wire::transmit::{TonesFrom, Transmitter};
use std::sync::{Arc, Mutex, Weak};
use std::time::{Duration, Instant};

/// Between two looks at who armed it, and two reports.
const LOOK: Duration = Duration::from_millis(100);

/// Where its state is told.
type Tell = Arc<dyn Fn(&AnswerState) + Send + Sync>;

/// Answering: off, or held by one hand. Dropping it unkeys.
pub struct Answering(Arc<Inner>);

struct Inner {
    // Configured.
    shared: Shared,
    tell: Tell,
    // State.
    held: Mutex<Option<Held>>,
    words: Mutex<Option<String>>,
    keyboard: Mutex<Option<KeyboardState>>,
    told: Mutex<AnswerState>,
    /// Who was told who is on its tones.
    doubted: Doubt,
    /// Who was told what opening told of the cable.
    cable_doubted: Doubt,
    /// Why an over that would have begun by itself did not, in words.
    held_up: Mutex<Option<String>>,
}

impl Answering {
    /// Off. `ears` are asked before each over; how it stands is told through `tell`, each line as
    /// it goes out through `tell_sent`.
    pub fn new(air: Arc<dyn Air>, ears: Arc<dyn Ears>, tell: Tell, tell_sent: TellSent) -> Self {
        Answering(Arc::new(Inner {
            shared: Shared {
                air,
                ears,
                tell_sent,
                draft: Arc::default(),
                over_at: Arc::default(),
                next_line: Arc::default(),
            },
            tell,
            held: Mutex::default(),
            words: Mutex::default(),
            keyboard: Mutex::default(),
            told: Mutex::default(),
            doubted: Doubt::default(),
            cable_doubted: Doubt::default(),
            held_up: Mutex::default(),
        }))
    }

    /// How it stands.
    pub fn state(&self) -> AnswerState {
        self.0.state()
    }

    /// Does what a hand asks. May take a moment. Whoever is heard where an over would go is named
    /// first, and who was told and asks again means it.
    ///
    /// # Errors
    ///
    /// Why it cannot be, in words.
    pub fn ask(&self, hand: Hand, answer: &Answer) -> Result<(), String> {
        let inner = &self.0;
        if answer.keys() {
            inner.listen_first(hand)?;
        }
        let done = match answer {
            Answer::Arm {
                call,
                minutes,
                tones,
            } => self.arm(hand, call, *minutes, *tones),
            Answer::Tones(from) => inner.with(hand, |held| held.tones = *from),
            Answer::Here => inner.with(hand, |held| held.heard = Instant::now()),
            Answer::Write { gone, typed, text } => {
                inner.with(hand, |held| held.tape = None)?;
                *lock(&inner.held_up) = None;
                lock(&inner.shared.draft).write(*gone, *typed, text)
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
    /// transmitter, and is dropped if nobody has. With `begins` an over begins with it, unless
    /// somebody is heard where it would go: then it waits, and that is told.
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
            lock(&inner.shared.draft).typed(text)?;
            let idle = !held.is_keyed();
            (begins && idle).then_some(held.hand)
        };
        if let Some(hand) = hand {
            inner.begin_typed(hand)?;
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

    fn arm(
        &self,
        hand: Hand,
        call: &str,
        minutes: f64,
        tones: Option<TonesFrom>,
    ) -> Result<(), String> {
        let inner = &self.0;
        if !(0.5..=60.0).contains(&minutes) {
            return Err(format!(
                "it can be armed for 0.5 to 60 minutes, not {minutes}"
            ));
        }
        let plan = inner.shared.air.plan()?;
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
            held.tones = tones.unwrap_or(held.tones);
            return Ok(());
        }
        // Nobody else may begin meanwhile: the lock is kept.
        let transmitter = inner
            .shared
            .air
            .open(&plan)
            .map_err(|error| error.to_string())?;
        inner.confirmed(hand, &transmitter)?;
        let from = tones.unwrap_or(plan.tones);
        let weak = Arc::downgrade(inner);
        let off = move |is_own: &dyn Fn(&Held) -> bool, why: &str| {
            // It may be off already, and armed again by somebody else.
            if let Some(inner) = weak.upgrade() {
                inner.off_where(|held| is_own(held), why);
            }
        };
        let shared = inner.shared.clone();
        let mut one = Held::begin(hand, plan, transmitter, lasts, shared, off)?;
        one.tones = from;
        *held = Some(one);
        drop(held);
        *lock(&inner.words) = None;
        *lock(&inner.held_up) = None;
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
    /// What opening it told of its cable must be confirmed by arming it once more.
    fn confirmed(&self, hand: Hand, transmitter: &Transmitter) -> Result<(), String> {
        let Some(doubt) = transmitter.cable().doubt() else {
            return Ok(());
        };
        if self.cable_doubted.asks_again(hand, LOOKED) {
            return Ok(());
        }
        Err(format!(
            "{doubt}. It is armed all the same if you arm it again within {} s",
            LOOKED.as_secs()
        ))
    }

    /// Does something as the hand that holds it, who is there.
    fn with<T>(&self, hand: Hand, what: impl FnOnce(&mut Held) -> T) -> Result<T, String> {
        match lock(&self.held).as_mut() {
            Some(held) if held.hand == hand => Ok(what(held)),
            Some(_) => Err("another page has armed it".into()),
            None => Err("it is not armed".into()),
        }
    }

    /// Asked before an over begins.
    ///
    /// # Errors
    ///
    /// Somebody is there, or nobody knows on which tones; in words.
    fn listen_first(&self, hand: Hand) -> Result<(), String> {
        let Some(busy) = self.who_is_there(hand)? else {
            return Ok(());
        };
        if self.doubted.asks_again(hand, CONFIRMED) {
            return Ok(());
        }
        Err(format!(
            "{} is there just now; ask again within {} s to send all the same",
            busy.who,
            CONFIRMED.as_secs()
        ))
    }

    /// Who is on the tones of an over that this hand would begin, or beside them.
    ///
    /// # Errors
    ///
    /// Nobody knows on which tones, in words.
    fn who_is_there(&self, hand: Hand) -> Result<Option<Busy>, String> {
        let Some(aimed) = self.aim(|held| held.hand == hand)? else {
            return Ok(None);
        };
        let busy = || self.shared.ears.busy(aimed.plan.tones());
        Ok((!self.is_own()).then(busy).flatten())
    }

    /// Where an over that began now would be; `None` if it is not armed so, or one is being sent.
    ///
    /// # Errors
    ///
    /// Nobody knows on which tones, in words.
    fn aim(&self, is_meant: impl FnOnce(&Held) -> bool) -> Result<Option<Aimed>, String> {
        let found = {
            let held = lock(&self.held);
            let held = held.as_ref().filter(|held| is_meant(held));
            let idle = held.filter(|held| !held.is_keyed());
            idle.map(|held| (held.plan.clone(), held.tones, held.pair.clone()))
        };
        let Some((plan, from, pair)) = found else {
            return Ok(None);
        };
        let over_at = *lock(&self.shared.over_at);
        let kept = pair.filter(|_| over_at.is_some_and(|at| at.elapsed() < STAYS));
        // The receiver is asked while nobody waits for who holds it.
        aimed(
            self.shared.air.stands(&plan),
            from,
            self.shared.ears.as_ref(),
            kept,
        )
        .map(Some)
    }

    /// Whether what is heard may still be an over of its own.
    fn is_own(&self) -> bool {
        let over_at = *lock(&self.shared.over_at);
        over_at.is_some_and(|at| at.elapsed() < self.shared.ears.settles())
    }

    /// Typing begins an over where nobody is heard. Nobody is asked there, so nothing but the
    /// page can say that it is meant all the same.
    fn begin_typed(&self, hand: Hand) -> Result<(), String> {
        let words = match self.who_is_there(hand) {
            Ok(None) => return self.go(hand, Pace::Go),
            Ok(Some(busy)) => format!(
                "What is typed waits: {} is there just now. It goes with the next key once nobody \
                 is heard, or with Send.",
                busy.who
            ),
            Err(why) => format!("What is typed waits: {why}."),
        };
        *lock(&self.held_up) = Some(words);
        Ok(())
    }

    /// Begins an over, or goes on with one.
    ///
    /// # Errors
    ///
    /// Another hand holds it; nobody knows on which tones; in words.
    fn go(&self, hand: Hand, pace: Pace) -> Result<(), String> {
        let aimed = self.aim(|held| held.hand == hand)?;
        self.with(hand, |held| {
            let mut draft = lock(&self.shared.draft);
            if held.is_keyed() {
                draft.pace = pace;
                return;
            }
            // Another over has ended just now: whoever asked sees that, and asks again.
            let Some(aimed) = aimed else { return };
            draft.begin(pace);
            *lock(&self.held_up) = None;
            // One that is about to begin need not be told twice.
            if held.go.try_send(aimed.plan).is_ok() {
                (held.tones_told, held.pair) = (Some(aimed.words), aimed.pair);
            }
        })
    }

    /// Pausing and finishing end a loop as well.
    fn pace(&self, hand: Hand, pace: Pace) -> Result<(), String> {
        self.with(hand, |held| {
            held.tape = None;
            lock(&self.shared.draft).pace = pace;
        })
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
        *lock(&self.words) = Some(held.off(why));
        *lock(&self.held_up) = None;
    }

    /// Which tones go out, or would.
    fn tones(&self) -> TonesState {
        let aim = self.aim(|_| true);
        let held = lock(&self.held);
        let Some(held) = held.as_ref() else {
            let plan = self.shared.air.plan();
            return TonesState {
                from: plan.map_or(TonesFrom::Own, |plan| plan.tones),
                ..TonesState::default()
            };
        };
        let (words, refused) = match aim {
            Ok(Some(aimed)) => (Some(aimed.words), None),
            Ok(None) => (held.tones_told.clone(), None),
            Err(why) => (None, Some(why)),
        };
        TonesState {
            from: held.tones,
            words,
            refused,
        }
    }

    fn state(&self) -> AnswerState {
        let tones = self.tones();
        let held = lock(&self.held);
        let draft = lock(&self.shared.draft);
        let own = held.as_ref().map(|held| held.plan.clone());
        let plan = own.or_else(|| self.shared.air.plan().ok());
        let set = plan.as_ref().and_then(|plan| self.shared.air.words(plan));
        let left = held.as_ref().and_then(|held| held.arming.left());
        AnswerState {
            set,
            call: plan.and_then(|plan| plan.call),
            armed_by: held.as_ref().map(|held| held.hand),
            left_s: left.unwrap_or_default().as_secs(),
            on_the_air: held.as_ref().is_some_and(Held::is_keyed),
            tones,
            cable: held
                .as_ref()
                .map(|held| held.cable.join(". "))
                .filter(|told| !told.is_empty()),
            paused: draft.pace == Pace::Pause,
            loops: held.as_ref().is_some_and(|held| held.tape.is_some()),
            gone: draft.gone,
            latest: draft.latest.iter().collect(),
            waiting: draft.waiting.iter().collect(),
            typed: draft.typed,
            keyboard: lock(&self.keyboard).clone(),
            held_up: lock(&self.held_up).clone(),
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
