//! What `markhold contacts` may be told.

use clap::{Args, Subcommand};
use std::path::PathBuf;

/// The log of contacts: listed, added to, handed on as ADIF 3 and taken in from it.
///
/// It lies on the shelf as one ADIF file, contacts.adi, which other programs read as it is. Times
/// are UTC. Practice has a log of its own, which goes when the program ends. Exit code: 0 done, 1
/// nothing there, 2 something went wrong.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  markhold contacts list
  markhold contacts add Q2HLR --report 599 --got 579 --name JON --khz 3583
  markhold contacts export --out log.adi
  markhold contacts import club.adi")]
pub struct Options {
    /// What to do
    #[command(subcommand)]
    pub command: Command,
    /// Folder of the shelf, if not the usual one
    #[arg(long, value_name = "DIR", global = true)]
    pub shelf: Option<PathBuf>,
}

/// What can be done with the log.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// All contacts; (as 3) is one with the same station, band and mode as the third
    #[command(after_help = "Examples:\n  markhold contacts list\n  markhold contacts list --json")]
    List {
        /// A JSON object a line
        #[arg(long)]
        json: bool,
    },
    /// Keep a contact
    #[command(after_help = "\
Examples:
  markhold contacts add Q2HLR --report 599 --got 579
  markhold contacts add Q2HLR --at 2026-11-14T19:30 --khz 3583 --name JON --number 7")]
    Add(Box<Add>),
    /// Take a contact out
    #[command(
        after_help = "Examples:\n  markhold contacts remove 3\n  markhold contacts remove 3 --shelf DIR"
    )]
    Remove {
        /// Its number in the list
        number: usize,
    },
    /// Take in the contacts of an ADIF file, those that are there already left out
    #[command(
        after_help = "Examples:\n  markhold contacts import club.adi\n  markhold contacts import old.adi --shelf DIR"
    )]
    Import {
        /// The file
        file: PathBuf,
    },
    /// Write all contacts as ADIF 3
    #[command(
        after_help = "Examples:\n  markhold contacts export --out log.adi\n  markhold contacts export --out -"
    )]
    Export {
        /// The file, replaced if it exists; - for standard output
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
}

/// A contact.
#[derive(Args, Debug)]
pub struct Add {
    /// The other station's call
    #[arg(value_name = "CALL")]
    pub with: String,
    /// When it began, UTC, as 2026-11-14T19:30 [now]
    #[arg(long, value_name = "TIME")]
    pub at: Option<String>,
    /// Where
    #[arg(long, value_name = "KHZ")]
    pub khz: Option<f64>,
    /// The report that was given
    #[arg(long, value_name = "RST")]
    pub report: Option<String>,
    /// The report that was got
    #[arg(long, value_name = "RST")]
    pub got: Option<String>,
    /// The name of who was there
    #[arg(long)]
    pub name: Option<String>,
    /// The number that was given
    #[arg(long)]
    pub number: Option<u64>,
    /// The number that was got
    #[arg(long)]
    pub got_number: Option<u64>,
    /// This station's call
    #[arg(long)]
    pub call: Option<String>,
    /// Anything worth knowing
    #[arg(long)]
    pub note: Option<String>,
}
