//! What `markhold check` may be told.

use clap::Args;
use std::path::PathBuf;

/// Look over this computer: what is there, what stands in the way, and what to do about it.
///
/// Listens to every sound input for three seconds and looks at serial ports, the radio control
/// daemon, real-time rights, the shelf's disk, the clock and the settings file. Nothing is
/// opened that could key a line or a transmitter. Exit code: 0 nothing is wrong (remarks may
/// have been made), 2 something is.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  markhold check
  markhold check --json > computer.jsonl
  markhold check --input \"Line In\" && markhold --input \"Line In\"")]
pub struct Options {
    /// The sound input that is meant: a part of its name is enough [default: the system's]
    #[arg(long, value_name = "NAME")]
    pub input: Option<String>,

    /// Which of its channels is heard, counted from 1
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub channel: u16,

    /// How long each input is listened to, 1 to 600
    #[arg(long, value_name = "S", default_value_t = 3.0)]
    pub listen: f64,

    /// Folder of the shelf, if not the usual one
    #[arg(long, value_name = "DIR")]
    pub shelf: Option<PathBuf>,

    /// The settings file, if not the usual one
    #[arg(long, value_name = "FILE")]
    pub settings: Option<PathBuf>,

    /// One JSON object per line
    #[arg(long)]
    pub json: bool,
}
