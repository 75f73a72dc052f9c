//! Arming: a person at this computer says that this is to be sent.

use crate::outcome::say;
use crate::stopping;
use anyhow::{Context, bail};
use markhold_wire::transmit::Cable;
use std::fs::File;
use std::io::{BufRead, BufReader, IsTerminal, Read, Write, stdin};

/// Said before anything is keyed.
pub const CAUTION: &str = "caution: a keyed transmitter is on the air. Your licence, the band plan \
                           and local rules come first: they say what may be sent, where, when and \
                           by whom. Keep clear of the aerial; make trials into a dummy load.";

/// Set by what brings a terminal over the network.
const REMOTE: [&str; 3] = ["SSH_CONNECTION", "SSH_CLIENT", "SSH_TTY"];

/// A terminal of this computer with a person at it.
///
/// # Errors
///
/// There is none, or it came over the network.
pub fn terminal() -> anyhow::Result<Box<dyn Read>> {
    if REMOTE.iter().any(|name| std::env::var_os(name).is_some()) {
        bail!(
            "arming is for a person at this computer, and this terminal came over the network; \
             go there, or see what would be sent with --dry"
        );
    }
    if stdin().is_terminal() {
        return Ok(Box::new(stdin()));
    }
    match File::open("/dev/tty") {
        Ok(terminal) => Ok(Box::new(terminal)),
        Err(_) => bail!(
            "arming is for a person at a terminal of this computer, and there is none; start it \
             in a terminal, or see what would be sent with --dry"
        ),
    }
}

/// Tells what opening the transmitter told of its cable; whether it may be keyed. What is doubtful
/// a person must confirm: nobody can who armed it beforehand.
///
/// # Errors
///
/// It is doubtful, and nobody is asked.
pub fn cable(told: &Cable, call: &str, is_asked: bool) -> anyhow::Result<bool> {
    told.notes.iter().for_each(|note| say(note));
    match told.doubt() {
        None => Ok(true),
        Some(doubt) if is_asked => {
            say(&doubt);
            asked(terminal()?, call)
        }
        Some(doubt) => bail!("{doubt}"),
    }
}

/// Asks for the call; whether it was typed.
pub fn asked(terminal: Box<dyn Read>, call: &str) -> anyhow::Result<bool> {
    say(&format!(
        "to send it, type the call {call} and Enter; anything else leaves it:"
    ));
    std::io::stderr().flush()?;
    let mut line = String::new();
    let read = stopping::waiting(|| BufReader::new(terminal).read_line(&mut line));
    read.context("the terminal")?;
    Ok(line.trim().eq_ignore_ascii_case(call))
}
