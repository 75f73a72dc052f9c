//! markhold: copies radioteletype, live at the desk or from recordings, keeps it, and makes
//! recordings.
//!
//! Text goes to standard output, talk to standard error. The exit code is 0 if text was
//! copied (or a recording made), 1 if nothing was found, 2 on an error. Other people's
//! scripts read these: they stay as they are.

mod air;
mod bench;
mod cli;
mod copy;
mod desk;
mod machine;
mod outcome;
mod shelf;
mod words;

use clap::Parser;
use cli::{Cli, Command};
use outcome::{Outcome, say};
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let result = match cli.command {
        Some(Command::Copy(options)) => copy::run(&options),
        Some(Command::Air(options)) => air::run(&options),
        Some(Command::Bench(options)) => bench::run(&options),
        Some(Command::Shelf(options)) => shelf::run(&options),
        Some(Command::Machine(options)) => machine::run(&options),
        None => desk::run(&cli.desk),
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
