//! `markhold machine`: text to a page printer, or what it would print.

mod along;
mod keys;
mod list;
mod messages;
mod offered;
mod options;
mod outlet;
mod page_file;
mod preview;

pub use along::AlongArgs;
pub use keys::KEYS;
pub use offered::SettingsMachines;
pub use options::{Options, Outfit, usual_settings};
pub use outlet::{CAUTION, Outlet};
pub use preview::Preview;

use crate::files::{read_text, text_of};
use crate::outcome::{Outcome, say};
use anyhow::Context;
use markhold_page::{Copied, Discipline, Machine, Ordered};
use markhold_wire::TRIAL_S;
use markhold_wire::play::Setup;
use std::io::Write;
use std::path::Path;
use std::time::Duration;

/// Lists machines, describes one, or sends text to it.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let Some(name) = &options.name else {
        return list::all(&options.outfit);
    };
    let setup = options.outfit.setup(name)?;
    if let Some(lasts) = options.trial {
        return trial(name, &setup, lasts);
    }
    if options.says_nothing() {
        return list::one(name, &setup);
    }
    let text = text(options, &setup.machine)?;
    let orders = orders(&setup.machine, &text)?;
    let mut outlet = Outlet::open(name, &setup, &options.outfit)?;
    outlet.say_length(&orders);
    outlet.give(&orders);
    outlet.close()
}

/// Tries the way and says how well it will do.
fn trial(name: &str, setup: &Setup, lasts: Option<Duration>) -> anyhow::Result<Outcome> {
    let way = setup.way().with_context(|| no_way(name))?;
    let found = way
        .trial(lasts.map_or(TRIAL_S, |lasts| lasts.as_secs_f64()))
        .with_context(|| name.to_string())?;
    writeln!(std::io::stdout(), "{name}: {found}").context("standard output")?;
    Ok(Outcome::Done)
}

/// What to do where a machine has no way.
pub fn no_way(name: &str) -> String {
    format!(
        "there is no way to {name} yet: give one (--way serial:/dev/ttyS0, or way = ... in the \
         settings file), or see what it would print (--dry)"
    )
}

/// All that is to be sent: files, then texts, then test messages.
fn text(options: &Options, machine: &Machine) -> anyhow::Result<String> {
    let mut text = String::new();
    for file in &options.files {
        text.push_str(&read(file)?);
        end_line(&mut text);
    }
    for words in &options.text {
        text.push_str(words);
        end_line(&mut text);
    }
    for test in &options.test {
        text.push_str(&messages::text(*test, machine));
    }
    Ok(text)
}

fn end_line(text: &mut String) {
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
}

fn read(file: &Path) -> anyhow::Result<String> {
    match file == Path::new("-") {
        true => text_of(std::io::stdin()).context("standard input"),
        false => read_text(file),
    }
}

fn orders(machine: &Machine, text: &str) -> anyhow::Result<Vec<Ordered>> {
    let mut discipline = Discipline::new(machine)?;
    let mut orders = Vec::new();
    Copied::of_text(text, 0.0).for_each(|copied| discipline.take(&copied, &mut orders));
    discipline.finish(&mut orders);
    let left = discipline.left();
    if left.bells + left.empty_lines > 0 {
        say(&format!(
            "left out: {} bells, {} empty lines (bells_per_minute, empty_lines)",
            left.bells, left.empty_lines
        ));
    }
    Ok(orders)
}
