//! Told to stop: from the keyboard, by the system, or because the terminal was closed.
//!
//! What must not go on, a machine's line above all, is stopped at once by a thread that does
//! nothing else. The command then ends by itself; one that does not is ended after a while,
//! and a second signal ends it at once. Whoever keys is watched over besides.

use crate::outcome::say;
use std::process::ExitCode;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long a command may take to end by itself once everything was stopped.
const PATIENCE: Duration = Duration::from_secs(3);

/// How long a command may take that ends by being told to: what was heard is put on the disk,
/// copied for some seconds and written.
const USUAL_PATIENCE: Duration = Duration::from_secs(20);

/// What told the program to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Signal {
    /// The terminal was closed.
    #[cfg_attr(not(unix), allow(dead_code, reason = "there is none here"))]
    HangUp,
    /// Ctrl-C.
    Interrupt,
    /// The system, or somebody by hand.
    #[cfg_attr(not(unix), allow(dead_code, reason = "there is none here"))]
    Terminate,
}

impl Signal {
    /// 128 and the signal's number (common practice).
    fn code(self) -> u8 {
        128 + match self {
            Signal::HangUp => 1,
            Signal::Interrupt => 2,
            Signal::Terminate => 15,
        }
    }
}

type Hook = Box<dyn FnOnce() + Send>;

struct State {
    listening: bool,
    hooks: Vec<Hook>,
    told: Option<Signal>,
    /// Being told to is how the command usually ends: it has an exit code of its own.
    usual: bool,
    /// The command waits for a person, and has nothing to end.
    waits: bool,
    /// Everything that must not go on has been stopped.
    stopped: bool,
}

static STATE: Mutex<State> = Mutex::new(State {
    listening: false,
    hooks: Vec::new(),
    told: None,
    usual: false,
    waits: false,
    stopped: false,
});
static CHANGED: Condvar = Condvar::new();

fn state() -> MutexGuard<'static, State> {
    // It is whole after every statement.
    STATE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// From here on signals that end programs are taken: the command looks at [`told`].
///
/// # Errors
///
/// The system gives no thread, or no signals.
pub fn listen() -> std::io::Result<()> {
    if std::mem::replace(&mut state().listening, true) {
        return Ok(());
    }
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let mut signals = runtime.block_on(async { Signals::new() })?;
    let work = move || {
        let first = runtime.block_on(signals.next());
        std::thread::spawn(move || stop(first));
        let second = runtime.block_on(signals.next());
        if state().usual {
            say("Ended at once. What is not copied is copied again at the next start.");
        }
        std::process::exit(i32::from(second.code()));
    };
    let thread = std::thread::Builder::new().name("signals".into());
    thread.spawn(work).map(|_| ())
}

/// What is to be done at once when the program is told to stop.
///
/// # Errors
///
/// As [`listen`].
pub fn on_stop(hook: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
    listen()?;
    let mut state = state();
    if state.told.is_some() {
        drop(state);
        hook();
    } else {
        state.hooks.push(Box::new(hook));
    }
    Ok(())
}

/// As [`on_stop`], for a command that listens until it is told to stop. What it heard it puts
/// in order first, and its exit code is its own.
///
/// # Errors
///
/// As [`listen`].
pub fn on_usual_stop(hook: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
    state().usual = true;
    on_stop(hook)
}

/// Whether the program was told to stop.
pub fn told() -> bool {
    state().told.is_some()
}

/// While a person is waited for, nothing else is when the program is told to stop.
pub fn waiting<T>(wait: impl FnOnce() -> T) -> T {
    state().waits = true;
    let result = wait();
    state().waits = false;
    result
}

/// What the program ends with: if it was told to stop, that, once everything was stopped.
pub fn settled(otherwise: ExitCode) -> ExitCode {
    let state = state();
    let Some(signal) = state.told.filter(|_| !state.usual) else {
        return otherwise;
    };
    let waited = CHANGED.wait_timeout_while(state, PATIENCE, |state| !state.stopped);
    drop(waited);
    signal.code().into()
}

fn stop(signal: Signal) {
    let hooks = {
        let mut state = state();
        state.told = Some(signal);
        std::mem::take(&mut state.hooks)
    };
    hooks.into_iter().for_each(|hook| hook());
    let (waits, usual) = {
        let mut state = state();
        state.stopped = true;
        (state.waits, state.usual)
    };
    CHANGED.notify_all();
    if waits {
        std::process::exit(i32::from(signal.code()));
    }
    std::thread::sleep(if usual { USUAL_PATIENCE } else { PATIENCE });
    say("stopped in the middle: the command did not end by itself");
    std::process::exit(i32::from(signal.code()));
}

/// Signals that end programs, as they come. One that this program was started without, as `nohup` starts it
/// without the terminal's, stays away.
#[cfg(unix)]
struct Signals(Vec<(Signal, tokio::signal::unix::Signal)>);

#[cfg(unix)]
impl Signals {
    /// Takes them; within a runtime.
    fn new() -> std::io::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [
            (Signal::HangUp, SignalKind::hangup()),
            (Signal::Interrupt, SignalKind::interrupt()),
            (Signal::Terminate, SignalKind::terminate()),
        ];
        let wanted = kinds.into_iter().filter(|(name, _)| !is_ignored(*name));
        let all = wanted.map(|(name, kind)| Ok((name, signal(kind)?)));
        Ok(Signals(all.collect::<std::io::Result<_>>()?))
    }

    /// The next one.
    async fn next(&mut self) -> Signal {
        std::future::poll_fn(|context| {
            let ready = |(name, signal): &mut (Signal, tokio::signal::unix::Signal)| {
                signal.poll_recv(context).is_ready().then_some(*name)
            };
            match self.0.iter_mut().find_map(ready) {
                Some(name) => std::task::Poll::Ready(name),
                None => std::task::Poll::Pending,
            }
        })
        .await
    }
}

/// Whether the program was started with this signal ignored; only Linux tells.
#[cfg(unix)]
fn is_ignored(signal: Signal) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    ignored_mask(&status) & (1 << (signal.code() - 129)) != 0
}

/// Bit 0 is signal 1.
#[cfg(unix)]
fn ignored_mask(status: &str) -> u64 {
    let line = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    line.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok())
        .unwrap_or(0)
}

/// As on other systems.
#[cfg(not(unix))]
struct Signals;

#[cfg(not(unix))]
impl Signals {
    fn new() -> std::io::Result<Self> {
        Ok(Signals)
    }

    async fn next(&mut self) -> Signal {
        match tokio::signal::ctrl_c().await {
            Ok(()) => Signal::Interrupt,
            Err(_) => std::future::pending().await,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exit_codes_are_the_usual_ones() {
        let codes = [Signal::HangUp, Signal::Interrupt, Signal::Terminate].map(Signal::code);
        assert_eq!(codes, [129, 130, 143]);
    }

    #[cfg(unix)]
    #[test]
    fn a_signal_that_was_ignored_at_the_start_is_seen() {
        // As Linux writes it under nohup.
        let status = "SigBlk:\t0000000000000000\nSigIgn:\t0000000000001001\nSigCgt:\t0\n";
        assert_eq!(ignored_mask(status) & 1, 1);
        assert_eq!(ignored_mask("Name:\tmarkhold"), 0);
    }
}
