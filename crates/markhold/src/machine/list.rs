//! The machines there are, and what one of them is.

use super::Outfit;
use super::keys::remarked;
use crate::outcome::Outcome;
use anyhow::Context;
use markhold_page::kinds;
use markhold_wire::play::Setup;
use std::io::{Write, stdout};

/// All machines, one a line.
pub fn all(outfit: &Outfit) -> anyhow::Result<Outcome> {
    let mut out = stdout().lock();
    for (name, setup) in outfit.setups()? {
        writeln!(out, "{name:15} {}", about(&setup)).context("standard output")?;
    }
    for kind in kinds() {
        writeln!(out, "{:15} {}", kind.name, kind.about).context("standard output")?;
    }
    Ok(Outcome::Done)
}

fn about(setup: &Setup) -> String {
    let machine = &setup.machine;
    let way = match &setup.way {
        Some(way) => way.to_string(),
        None => "no way to it yet".into(),
    };
    let rate = (machine.rate_baud * 100.0).round() / 100.0;
    format!(
        "{} columns, {rate} baud, {} row, {way}",
        machine.columns, machine.figures
    )
}

/// One machine as it could stand in the settings file.
pub fn one(name: &str, setup: &Setup) -> anyhow::Result<Outcome> {
    let mut out = stdout().lock();
    let table = toml::to_string(&setup.machine).context("the machine")?;
    let way = match &setup.way {
        Some(way) => format!("way = {:?}\n", way.to_string()),
        None => {
            "# way = \"rts:/dev/ttyUSB0\", or serial: break: dtr: tones codes: listen:\n".into()
        }
    };
    let patience = format!(
        "{:30} # s a better reading is waited for, 0 to 60; 0 prints along at once\n",
        format!("patience_s = {:?}", setup.patience_s)
    );
    let table = remarked(&table);
    write!(out, "[machine.{name}]\n{way}{patience}{table}").context("standard output")?;
    Ok(Outcome::Done)
}
