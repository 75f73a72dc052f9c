//! What is typed at the machine, sent as it comes: an over begins with typing and ends when
//! nothing more is typed.

use super::kept::Kept;
use super::{Options, arm, planned};
use crate::outcome::{Outcome, say};
use crate::{stopping, words};
use anyhow::{Context, bail};
use markhold_event::SentLine;
use markhold_station::answering::{
    Air, Answer, AnswerState, Answering, Hand, Keyboard, KeyboardSetup, KeyboardState, NoEars, Took,
};
use markhold_wire::KeyerError;
use markhold_wire::keyboard::{Echo, KeyboardPlan, Stroke, Typed, told};
use markhold_wire::transmit::TransmitterPlan;
use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// Armed for so long where no other time is told.
const USUAL: Duration = Duration::from_secs(600);
/// Between two looks at how it stands; well within what answering takes for silence.
const LOOK: Duration = Duration::from_millis(100);

/// Sends what is typed, or shows it.
pub fn run(options: &Options, plan: &TransmitterPlan) -> anyhow::Result<Outcome> {
    let keyboard = options.keyboard.plan(options.settings.as_ref())?;
    let keyboard = keyboard.context("--keyboard names no way")?;
    if options.dry || plan.way.is_none() {
        if !options.dry {
            say("no transmitter is set (--to, or way in [transmitter]), so nothing is sent:");
        }
        return shown(&keyboard);
    }
    let (call, way, key) = super::who(plan)?;
    let terminal = arm::terminal()?;
    say(arm::CAUTION);
    say(&format!(
        "{call}, by {way}, keyed by {key}: what is typed at the machine ({}); an over ends when \
         nothing is typed for 20 s, a break stops at once\n{}\n{}",
        keyboard
            .way
            .as_ref()
            .map(ToString::to_string)
            .unwrap_or_default(),
        planned::tones(plan),
        planned::given(plan)
    ));
    let lasts = match options.armed_for {
        Some(lasts) => lasts,
        None if arm::asked(terminal, call)? => USUAL,
        None => {
            say("not armed; nothing was sent");
            return Ok(Outcome::Failed);
        }
    };
    on_the_air(options, plan, keyboard, lasts)
}

/// What is typed, as text on standard output, until its way ends or the program is told to stop.
fn shown(plan: &KeyboardPlan) -> anyhow::Result<Outcome> {
    stopping::listen().context("signals that stop the program")?;
    let mut line = plan.open().map_err(in_words)?;
    let mut typist = plan.typist();
    let mut out = std::io::stdout().lock();
    while !stopping::told() {
        let heard = match line.next(LOOK) {
            Ok(None) => continue,
            Ok(Some(heard)) => heard,
            Err(KeyerError::Closed { .. }) => break,
            Err(error) => return Err(in_words(error)),
        };
        if heard.stroke == Stroke::Misread {
            say("something came that is no character");
        }
        match typist.take(heard.stroke, markhold_wire::keyboard::Judged::Typed) {
            Some(Typed::Text(text)) => out.write_all(text.as_bytes()).and_then(|()| out.flush()),
            Some(Typed::Break) => {
                say("a break: it would stop at once");
                Ok(())
            }
            None => Ok(()),
        }
        .context("standard output")?;
    }
    out.write_all(b"\n").context("standard output")?;
    Ok(Outcome::Done)
}

fn in_words(error: KeyerError) -> anyhow::Error {
    anyhow::Error::msg(told(&error))
}

/// The transmitter as the command line has it.
struct AsTold(TransmitterPlan);

impl Air for AsTold {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        Ok(self.0.clone())
    }
}

fn on_the_air(
    options: &Options,
    plan: &TransmitterPlan,
    keyboard: KeyboardPlan,
    lasts: Duration,
) -> anyhow::Result<Outcome> {
    let kept = Arc::new(Kept::begin(options, plan));
    let keeps = Arc::clone(&kept);
    let sent = move |line: SentLine| {
        keeps.sent(line.clone());
        if line.closed {
            // Whoever reads it may have gone away; what is sent does not depend on that.
            let _ = writeln!(std::io::stdout(), "{}", line.text);
        }
    };
    let air = Arc::new(AsTold(plan.clone()));
    let ears = Arc::new(NoEars);
    let answering = Arc::new(Answering::new(air, ears, Arc::new(|_| ()), Arc::new(sent)));
    let stops = Arc::clone(&answering);
    stopping::on_stop(move || stops.stop()).context("signals that stop the program")?;
    let hand = Hand::new();
    let arm = Answer::Arm {
        call: plan.call.clone().unwrap_or_default(),
        minutes: lasts.as_secs_f64() / 60.0,
        tones: None,
    };
    if let Err(why) = answering.ask(hand, &arm) {
        // Of a cable that is doubtful a person may say that it is meant; all else is refused again.
        say(&why);
        let call = plan.call.as_deref().unwrap_or_default();
        if options.armed_for.is_some() || !arm::asked(arm::terminal()?, call)? {
            say("not armed; nothing was sent");
            return Ok(Outcome::Failed);
        }
        answering.ask(hand, &arm).map_err(anyhow::Error::msg)?;
    }
    say(&format!("armed for {}", words::time(lasts.as_secs_f64())));
    let line = listen(&answering, keyboard)?;
    let state = until_off(&answering, hand, &line.1);
    drop(line);
    answering.stop();
    kept.finish();
    if stopping::told() {
        bail!("stopped; the transmitter is unkeyed");
    }
    let why = state
        .words
        .unwrap_or_else(|| "it was read to its end".into());
    say(&format!(
        "{} characters were typed and sent; {why}",
        state.gone
    ));
    Ok(Outcome::Done)
}

/// The latest state of the keyboard, for who looks.
type Stands = Arc<Mutex<KeyboardState>>;

fn listen(answering: &Arc<Answering>, plan: KeyboardPlan) -> anyhow::Result<(Keyboard, Stands)> {
    let echo = Echo::default();
    let takes = Arc::clone(answering);
    let take = move |typed: &Typed| {
        let taken = match typed {
            Typed::Text(text) => takes.typed(text, true).is_ok(),
            Typed::Break => {
                takes.broken();
                true
            }
        };
        if taken { Took::Taken } else { Took::Dropped }
    };
    let stands = Stands::default();
    let told = Arc::clone(&stands);
    let mut before = None;
    let tell = move |state: &KeyboardState| {
        if state.error != before {
            before.clone_from(&state.error);
            state.error.iter().for_each(|error| say(error));
        }
        told.lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone_from(state);
    };
    let keyboard = Keyboard::attend(KeyboardSetup { plan, echo }, take, tell);
    Ok((keyboard.map_err(anyhow::Error::msg)?, stands))
}

/// Is there as the hand that armed it, until it is off or nothing more can come.
fn until_off(answering: &Answering, hand: Hand, stands: &Stands) -> AnswerState {
    loop {
        // It may be off already, which the state tells.
        let _ = answering.ask(hand, &Answer::Here);
        let ended = stands.lock().unwrap_or_else(PoisonError::into_inner).ended;
        let state = answering.state();
        let done = ended && state.waiting.is_empty() && !state.on_the_air;
        if state.armed_by.is_none() || done || stopping::told() {
            return state;
        }
        if ended && state.on_the_air {
            let _ = answering.ask(hand, &Answer::GoAndEnd);
        }
        std::thread::sleep(LOOK);
    }
}
