//! The machine's own keyboard, as the settings file and the command line have it.

use crate::machine::Outfit;
use anyhow::Context;
use clap::Args;
use markhold_station::answering::KeyboardSetup;
use markhold_wire::keyboard::{Echo, KeyboardPlan};
use std::path::PathBuf;
use toml::{Table, Value};

/// What is told of the keyboard.
#[derive(Args, Clone, Debug, Default)]
pub struct KeyboardArgs {
    /// Listen to the machine's own keyboard by this way: serial:PORT (the port reads five-unit
    /// words), cts:PORT, dsr:PORT, dcd:PORT, ri:PORT (a status wire, read by the clock) or codes:PATH
    ///
    /// What is typed goes into the text that waits to be sent, once a person has armed the
    /// transmitter; typing arms nothing, and a break stops at once. The table [keyboard] of the
    /// settings file has the rest. A loop's voltage can kill: keep the port apart from it by an
    /// opto-coupler or a relay rated for it; local codes and licensed practice come first.
    #[arg(long, value_name = "WAY", help_heading = "Machine")]
    pub keyboard: Option<String>,
}

impl KeyboardArgs {
    /// The keyboard of the settings file with the way of the command line; one without a way is
    /// none.
    pub fn plan(&self, settings: Option<&PathBuf>) -> anyhow::Result<Option<KeyboardPlan>> {
        let file = Outfit {
            settings: settings.cloned(),
            ..Outfit::default()
        };
        let text = file.read_settings()?;
        let way = self.keyboard.clone();
        let changes = way.map(|way| ("way".to_string(), Value::String(way)));
        let blame = match changes.is_some() {
            false => file.place(),
            true => format!("{} and --keyboard", file.place()),
        };
        let plan = KeyboardPlan::of_settings(&text, Table::from_iter(changes)).context(blame)?;
        Ok(plan.way.is_some().then_some(plan))
    }

    /// The same, for a station.
    pub fn setup(&self, settings: Option<&PathBuf>) -> anyhow::Result<Option<KeyboardSetup>> {
        let echo = Echo::default();
        Ok(self
            .plan(settings)?
            .map(|plan| KeyboardSetup { plan, echo }))
    }
}
