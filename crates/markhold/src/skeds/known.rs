//! `markhold skeds known`: what a sked sends, as far as it is known.

use super::object::{Next, Object};
use super::options::Known as Asked;
use super::words;
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use markhold_shelf::{Known, KnownMissing, Shelf, plain};
use std::io::{Write, stdout};

pub fn run(shelf: &mut Shelf, asked: &Asked) -> anyhow::Result<Outcome> {
    let now = Timestamp::now();
    let sked = shelf.sked(asked.id)?;
    let known = match shelf.only_read() {
        true => {
            say(
                "this shelf may only be read here: what follows is put together for now, and not kept",
            );
            shelf.known_by_now(asked.id, now)?
        }
        false => {
            shelf.make_known(now)?;
            shelf.known(asked.id)?
        }
    };
    let next = shelf.next_chance(&shelf.repeats_of(asked.id)?, now)?;
    let Some(known) = known else {
        say("nothing is kept of this sked yet");
        say(&chance(next));
        return Ok(Outcome::NothingFound);
    };
    let mut out = stdout().lock();
    if asked.json {
        let next = next.map(|(sked, at)| Next {
            sked,
            at: at.to_string(),
        });
        let object = Object::Known {
            sked: asked.id,
            title: sked.title(),
            known: &known,
            next,
        };
        line(&mut out, &object)?;
        return Ok(Outcome::Done);
    }
    say(&about(sked.title(), &known));
    known.lines.iter().try_for_each(|l| writeln!(out, "{l}"))?;
    known.missing.iter().for_each(|m| say(&missing(m)));
    say(&chance(next));
    Ok(Outcome::Done)
}

/// `Marsh bulletin, by 3 copies, the latest of 2026-03-26 ...: 4312 characters, 2 % doubtful`.
fn about(title: &str, known: &Known) -> String {
    let copies = match known.copies.len() {
        1 => "1 copy".to_string(),
        n => format!("{n} copies"),
    };
    let latest = known.copies.last().map_or_else(String::new, |copy| {
        let when = words::both_times(copy.begin, &TimeZone::system());
        format!(", the latest of {when}")
    });
    format!(
        "{}, by {copies}{latest}: {} characters, {:.0} % doubtful, places that differ on purpose: {}",
        plain(title),
        known.characters,
        100.0 * known.doubtful as f64 / known.characters.max(1) as f64,
        known.variants
    )
}

fn missing(missing: &KnownMissing) -> String {
    let what = match (missing.why.as_str(), missing.silent_s) {
        ("silent", Some(s)) => format!("nothing was read for {s:.0} s: a pause, or lost in each"),
        ("doubtful", _) => format!("doubtful characters: {}", missing.doubtful),
        _ => "anything: no copy goes across".to_string(),
    };
    match missing.line {
        Some(at) => format!("missing: line {at}: {what}"),
        None => format!("missing: {what}"),
    }
}

fn chance(next: Option<(i64, Timestamp)>) -> String {
    match next {
        Some((sked, at)) => {
            let when = words::both_times(at, &TimeZone::system());
            format!("next chance: sked {sked}, {when}")
        }
        None => "no chance is known that comes within a year".to_string(),
    }
}
