//! markhold: copies radioteletype, live at the desk or from recordings, keeps it, and makes
//! recordings.
//!
//! Text goes to standard output, talk to standard error. The exit code is 0 if text was
//! copied (or a recording made), 1 if nothing was found, 2 on an error, 128 and the number of
//! the signal that stopped a command half-way. Other people's scripts read these: they stay
//! as they are.

mod air;
mod bench;
mod check;
mod choices;
mod cli;
mod contacts;
mod copy;
mod desk;
mod files;
mod guardian;
mod keyboard;
mod length;
mod machine;
mod manual;
mod outcome;
mod send;
mod shelf;
mod skeds;
mod station;
mod stopping;
mod units;
mod wanted;
mod words;

use clap::{CommandFactory, Parser};
use cli::{Cli, Command};
use outcome::{Outcome, say};
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse_from(units::without_units(&Cli::command(), std::env::args_os()));
    guardian::announce();
    let result = match cli.command {
        Some(Command::Copy(options)) => copy::run(&options),
        Some(Command::Air(options)) => air::run(&options),
        Some(Command::Bench(options)) => bench::run(&options),
        Some(Command::Shelf(options)) => shelf::run(&options),
        Some(Command::Skeds(options)) => skeds::run(&options),
        Some(Command::Machine(options)) => machine::run(&options),
        Some(Command::Send(options)) => send::run(&options),
        Some(Command::Contacts(options)) => contacts::run(&options),
        Some(Command::Check(options)) => check::run(&options),
        Some(Command::Manual(options)) => manual::run(&options, Cli::command()),
        Some(Command::Guardian) => guardian::run(),
        None => desk::run(&cli.desk),
    };
    stopping::settled(match result {
        Ok(outcome) => outcome.into(),
        Err(error) if outcome::is_broken_pipe(&error) => Outcome::Done.into(),
        Err(error) => {
            say(&format!("markhold: {}", outcome::in_words(&error)));
            Outcome::Failed.into()
        }
    })
}
