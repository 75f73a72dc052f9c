//! `markhold shelf search`.

use super::list::span;
use super::marked::either;
use super::object::{Object, line};
use super::options::Search;
use super::when::Zone;
use crate::copy::options::marker;
use crate::outcome::{Outcome, say};
use markhold_shelf::{Filter, Shelf};
use std::collections::btree_map::{BTreeMap, Entry};
use std::io::{IsTerminal, Write, stdout};

/// Said of a line that does not print the words.
fn maybe(probability: f32) -> String {
    format!("  (may hold it: {:.0} %)", 100.0 * probability.max(0.01))
}

pub fn run(shelf: &Shelf, search: &Search, zone: &Zone) -> anyhow::Result<Outcome> {
    let (from, until) = span(&search.span, zone)?;
    let filter = Filter {
        from,
        until,
        all_readings: search.all_readings,
        alternatives: !search.as_printed,
        most: search.most,
    };
    let hits = shelf.search(&search.words.join(" "), &filter)?;
    let marker = marker(search.doubt, stdout().is_terminal());
    let mut out = stdout().lock();
    // Each evening knows its own time zone.
    let mut evenings = BTreeMap::new();
    for hit in &hits {
        if search.json {
            line(&mut out, &Object::from(hit))?;
            continue;
        }
        let evening = match evenings.entry(hit.evening) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(new) => new.insert(shelf.evening(hit.evening)?),
        };
        let heard = zone.full(&evening.time(hit.line.begin_s()));
        let maybe = hit.maybe.map_or(String::new(), maybe);
        writeln!(
            out,
            "{:>5}  {heard}  {}{maybe}",
            hit.evening,
            either(&hit.line, marker)
        )?;
    }
    if hits.is_empty() {
        say("nothing found");
        return Ok(Outcome::NothingFound);
    }
    if hits.len() == search.most {
        say(&format!("the latest {}; --most finds more", hits.len()));
    }
    Ok(Outcome::Done)
}
