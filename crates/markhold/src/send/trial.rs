//! The transmitter opened as an over opens it, with nothing keyed: what is known of its cable.

use super::arm;
use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_wire::transmit::{Cable, KeyWords, Transmitter, TransmitterPlan};
use std::io::Write;

/// Opens it, once a person has armed it: opening a port may key.
pub fn run(plan: &TransmitterPlan) -> anyhow::Result<Outcome> {
    let (call, way, key) = super::who(plan)?;
    let terminal = arm::terminal()?;
    say(arm::CAUTION);
    say(&format!(
        "{call}, by {way}, keyed by {key}: opened for a trial, and nothing is keyed. Opening a port \
         may key all the same: have the dummy load on, and look at the transmitter"
    ));
    if !arm::asked(terminal, call)? {
        say("not armed; nothing was opened");
        return Ok(Outcome::Failed);
    }
    let transmitter = Transmitter::open(plan)?;
    let told = found(transmitter.cable(), plan);
    drop(transmitter);
    writeln!(std::io::stdout(), "{}", told.join("\n")).context("standard output")?;
    Ok(Outcome::Done)
}

/// All that is known, and what is not.
fn found(cable: &Cable, plan: &TransmitterPlan) -> Vec<String> {
    let mut told = vec!["it opens, and a second process can unkey it".to_string()];
    told.extend(cable.notes.iter().cloned());
    told.extend(cable.doubt());
    let key = plan.key();
    let keys_by_daemon = matches!(key, KeyWords::Daemon(_)).then_some(&key);
    told.push(match plan.ask.as_ref().or(keys_by_daemon) {
        Some(daemon) => format!("{daemon} says that the radio does not transmit now"),
        None => {
            "nothing here can say whether the radio transmitted meanwhile (ask = \"rigctld:..\" \
                 in [transmitter] names a daemon that can): that you must have seen"
                .into()
        }
    });
    told
}
