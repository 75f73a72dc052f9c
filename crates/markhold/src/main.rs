//! markhold: copies radioteletype from recordings, and makes recordings.
//!
//! Text goes to standard output, talk to standard error. The exit code is 0 if text was
//! copied (or a recording made), 1 if nothing was found, 2 on an error. Other people's
//! scripts read these: they stay as they are.

mod air;
mod bench;
mod cli;
mod copy;
mod outcome;
mod words;

use clap::Parser;
use cli::{Cli, Command};
use outcome::{Outcome, say};
use std::process::ExitCode;

fn main() -> ExitCode {
    let result = match Cli::parse().command {
        Some(Command::Copy(options)) => copy::run(&options),
        Some(Command::Air(options)) => air::run(&options),
        Some(Command::Bench(options)) => bench::run(&options),
        None => Ok(say_what_to_type()),
    };
    match result {
        Ok(outcome) => outcome.into(),
        Err(error) if outcome::is_broken_pipe(&error) => Outcome::Done.into(),
        Err(error) => {
            say(&format!("markhold: {error:#}"));
            Outcome::Failed.into()
        }
    }
}

fn say_what_to_type() -> Outcome {
    say("To read a recording: markhold copy FILE. To make one: markhold air TEXT --out FILE.");
    say("More about each: markhold copy --help, markhold air --help.");
    Outcome::Failed
}
