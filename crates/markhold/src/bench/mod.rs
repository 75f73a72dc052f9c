//! `markhold bench`: keeps a machine and its line in adjustment.

mod listen;
mod loop_command;
mod measure_command;
mod on_line;
mod pattern_command;
mod range_command;
mod report;
mod running;
mod sending;
mod values;

use crate::outcome::Outcome;
use clap::{Args, Subcommand};

/// Keep a machine and its line in adjustment.
///
/// Caution: machines have strong moving parts, and loop supplies can kill. Local electrical
/// codes, your licence and licensed practice come before anything said here.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  markhold bench pattern alternating --out adjust.wav
  markhold bench measure line.wav
  markhold bench measure --input line --every 50
  markhold bench loop --supply 120 --current 60mA --coil-ohm 200 --inductance 4")]
pub struct Options {
    /// What to do.
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Pattern(pattern_command::Options),
    Measure(measure_command::Options),
    Range(range_command::Options),
    Loop(loop_command::Options),
}

/// Does it.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    match &options.command {
        Command::Pattern(options) => pattern_command::run(options),
        Command::Measure(options) => measure_command::run(options),
        Command::Range(options) => range_command::run(options),
        Command::Loop(options) => loop_command::run(options),
    }
}
