//! What the desk is told on the command line.

use crate::keyboard::KeyboardArgs;
use crate::machine::{AlongArgs, Outfit};
use crate::wanted::{LanguageArgs, RoomArgs};
use clap::Args;
use markhold_desk::serve::PORT;
use markhold_station::PrintOn;
use std::path::PathBuf;

/// Options of `markhold` alone.
#[derive(Clone, Debug, Args)]
pub struct Options {
    /// Listen to this sound input: a part of its name is enough [default: the system's]
    #[arg(long, value_name = "NAME", conflicts_with = "practice")]
    pub input: Option<String>,

    /// Which of its channels is heard, counted from 1
    #[arg(
        long,
        value_name = "N",
        default_value_t = 1,
        conflicts_with = "practice"
    )]
    pub channel: u16,

    /// Listen to the practice band, whose receiver is turned in the page
    #[arg(long)]
    pub practice: bool,

    /// Let the local network in too, with a code that is shown here; unencrypted
    #[arg(long)]
    pub share: bool,

    /// Throw out everybody whom a code let in, from the desk that runs on this machine
    #[arg(long, conflicts_with_all = ["share", "practice", "input", "to"])]
    pub forget_keys: bool,

    /// Port of the page; 0 is any that is free
    #[arg(long, value_name = "N", default_value_t = PORT)]
    pub port: u16,

    /// Open the page in the browser
    #[arg(long)]
    pub open: bool,

    /// Folder of the shelf, where the evening is kept, if not the usual one
    #[arg(long, value_name = "DIR", conflicts_with = "no_keep")]
    pub shelf: Option<PathBuf>,

    /// Keep nothing of this evening
    #[arg(long)]
    pub no_keep: bool,

    #[command(flatten)]
    pub room: RoomArgs,

    #[command(flatten)]
    pub reading: LanguageArgs,

    /// Print on this page printer from the start
    ///
    /// One of the settings file or a ready-made one (markhold machine lists them); in the page
    /// it is stopped, started, and another one chosen. What went to paper is kept on the shelf.
    /// Keep clear of loop, mains and moving parts; local codes and licensed practice come
    /// first.
    #[arg(long, value_name = "MACHINE", help_heading = "Machine")]
    pub to: Option<String>,

    #[command(flatten)]
    pub along: AlongArgs,

    #[command(flatten)]
    pub keyboard: KeyboardArgs,

    /// The settings file, if not the usual one
    #[arg(long, value_name = "FILE", help_heading = "Machine")]
    pub settings: Option<PathBuf>,

    /// Seed of the practice band; the same seed is the same evening
    #[arg(long, value_name = "N", default_value_t = 1, requires = "practice")]
    pub seed: u64,

    /// How fast an evening on the practice band passes, for checks
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, hide = true)]
    pub pace: f64,
}

impl Options {
    /// Folder of the shelf that skeds are kept on; `None` = nothing is kept.
    pub fn skeds_place(&self) -> Option<PathBuf> {
        match self.no_keep {
            true => None,
            false => self.shelf.clone().or_else(markhold_shelf::usual_place),
        }
    }

    /// Folder of the shelf whose skeds are looked after here: who only practises hears none, and
    /// leaves them to somebody who listens.
    pub fn watched_place(&self) -> Option<PathBuf> {
        self.skeds_place().filter(|_| !self.practice)
    }

    /// What is told of the machine.
    pub fn outfit(&self) -> Outfit {
        self.along.outfit(self.settings.as_ref())
    }

    /// What is printed on from the start.
    pub fn print_on(&self) -> Option<PrintOn> {
        let machine = self.to.as_deref()?;
        Some(self.along.print_on(machine))
    }
}
