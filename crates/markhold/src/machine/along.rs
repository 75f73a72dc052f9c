//! What is told of a machine that prints along with what is heard.

use super::Outfit;
use clap::Args;
use markhold_station::PrintOn;
use std::path::PathBuf;

/// Options beside `--to`, which says for itself when printing begins.
#[derive(Args, Clone, Debug)]
pub struct AlongArgs {
    /// The way to the machine
    #[arg(long, value_name = "WAY", help_heading = "Machine", requires = "to")]
    pub way: Option<String>,

    /// Change a key of the machine, as in columns=74
    #[arg(
        long,
        value_name = "KEY=VALUE",
        help_heading = "Machine",
        requires = "to"
    )]
    pub set: Vec<String>,

    /// How long a better reading than the first is waited for; 0 prints along at once
    #[arg(long, value_name = "S", help_heading = "Machine", requires = "to")]
    pub patience: Option<f64>,
}

impl AlongArgs {
    /// What is told of the machine, with the settings file.
    pub fn outfit(&self, settings: Option<&PathBuf>) -> Outfit {
        Outfit {
            way: self.way.clone(),
            set: self.set.clone(),
            settings: settings.cloned(),
            ..Outfit::default()
        }
    }

    /// The wish to print on this machine.
    pub fn print_on(&self, machine: &str) -> PrintOn {
        PrintOn {
            machine: machine.into(),
            way: None,
            patience_s: self.patience,
            sent: false,
        }
    }
}
