//! `markhold shelf join`.

pub mod copies;
mod object;
mod options;
mod text;

pub use options::Join;

use super::when::Zone;
use crate::copy::options::marker;
use crate::outcome::{Outcome, say};
use copies::{KeptCopy, kept};
use markhold_join::{Copied, join};
use markhold_shelf::Shelf;
use std::io::{IsTerminal, Write, stdout};

pub fn run(shelf: &Shelf, options: &Join, zone: &Zone) -> anyhow::Result<Outcome> {
    let copies = kept(shelf, &options.evenings, zone)?;
    copies.iter().for_each(|c| say(&about(c, zone)));
    let given: Vec<Copied> = copies.iter().map(|c| c.copied.clone()).collect();
    let joints = join(&given);
    let mut out = stdout().lock();
    for joint in &joints {
        say(&text::about(joint, &copies));
        if options.json {
            object::print(&mut out, joint, &copies)?;
            continue;
        }
        let marker = marker(options.doubt, stdout().is_terminal());
        writeln!(out, "== {} ==", text::names(&joint.copies, &copies))?;
        for line in text::lines(joint, &copies, marker) {
            match options.bearers {
                true => writeln!(out, "{}  {}", text::bearers(&line, &copies), line.text)?,
                false => writeln!(out, "{}", line.text)?,
            }
        }
        text::variants(joint, &copies, zone)
            .iter()
            .try_for_each(|v| writeln!(out, "{v}"))?;
    }
    alone(&joints, &copies);
    Ok(match joints.is_empty() {
        true => Outcome::NothingFound,
        false => Outcome::Done,
    })
}

/// `A: evening 12, signal 1, 2026-03-21 20:30:05 CET, 4312 characters, 31 % doubtful`.
fn about(copy: &KeptCopy, zone: &Zone) -> String {
    let count = copy.characters.len();
    let doubtful = copy.characters.iter().filter(|c| c.doubt.is_some()).count();
    format!(
        "{}: evening {}, signal {}, {}, {count} characters, {:.0} % doubtful",
        copy.name,
        copy.evening,
        copy.signal,
        zone.full(&copy.begin),
        100.0 * doubtful as f64 / count.max(1) as f64
    )
}

/// Says which copies repeat none of the others.
fn alone(joints: &[markhold_join::Joint], copies: &[KeptCopy]) {
    let joined = |k: &usize| joints.iter().any(|j| j.copies.contains(k));
    let left: Vec<usize> = (0..copies.len()).filter(|k| !joined(k)).collect();
    if !left.is_empty() {
        let names = text::names(&left, copies);
        say(&format!(
            "markhold: {names}: nothing that another copy repeats"
        ));
    }
}
