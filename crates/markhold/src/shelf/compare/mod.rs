//! `markhold shelf compare`.

mod judge;
mod options;
mod published;
mod report;

pub use options::Compare;

use super::join::asked;
use super::object::line_as_it_is;
use super::when::Zone;
use crate::copy::options::marker;
use crate::outcome::{Outcome, say};
use anyhow::Context;
use judge::{Judged, Ours, judge};
use markhold_code::Symbol;
use markhold_event::Character;
use markhold_join::{Copied, Expected, Slot, beside};
use markhold_shelf::Shelf;
use markhold_shelf::joined::{KeptCopy, row};
use published::{Theirs, published};
use report::Compared;
use std::io::{IsTerminal, Read, Write, stdin, stdout};
use std::path::Path;

pub fn run(shelf: &Shelf, options: &Compare, zone: &Zone) -> anyhow::Result<Outcome> {
    let text = read(&options.file)?;
    let which = asked(shelf, std::slice::from_ref(&options.evening), zone)?;
    let copies = shelf.kept_copies(&which)?;
    let theirs = published(&text, row(&copies));
    let all = copies.iter().map(|copy| (copy, compared(copy, &theirs)));
    let best = all.max_by_key(|(_, (_, judged))| judged.heard);
    let Some((copy, (ours, judged))) = best.filter(|(_, (_, j))| j.heard > 0) else {
        say("markhold: the copy and the text have nothing in common");
        return Ok(Outcome::NothingFound);
    };
    let compared = Compared {
        copy,
        evening: &shelf.evening(copy.evening)?,
        ours: &ours,
        theirs: &theirs,
        judged: &judged,
        es_n0_db: es_n0_db(shelf, copy)?,
    };
    match options.json {
        true => json(&compared)?,
        false => tell(&compared, zone)?,
    }
    Ok(Outcome::Done)
}

fn read(file: &Path) -> anyhow::Result<String> {
    let mut bytes = Vec::new();
    match file.as_os_str() == "-" {
        true => stdin().read_to_end(&mut bytes).context("standard input")?,
        false => std::fs::File::open(file)
            .and_then(|mut f| f.read_to_end(&mut bytes))
            .with_context(|| file.display().to_string())?,
    };
    // Any text is better than none: what is no UTF-8 is sent as a hyphen.
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// A copy beside the text.
fn compared(copy: &KeptCopy, theirs: &[Theirs]) -> (Vec<Ours>, Judged) {
    let (slots, ours): (Vec<Slot>, Vec<Ours>) = printed(copy).unzip();
    let expected: Vec<Expected> = theirs.iter().map(|t| t.expected.clone()).collect();
    let stretches = beside(&Copied { slots }, &expected);
    let judged = judge(&ours, theirs, &stretches);
    (ours, judged)
}

/// What a copy prints; what parts words is one space, however it was sent.
fn printed(copy: &KeptCopy) -> impl Iterator<Item = (Slot, Ours)> {
    let mut apart = true;
    copy.decided().filter_map(move |(character, slot)| {
        let glyph = match character.symbol {
            Symbol::Print(c) => c,
            Symbol::Space | Symbol::CarriageReturn | Symbol::LineFeed => ' ',
            _ => return None,
        };
        let again = std::mem::replace(&mut apart, glyph == ' ') && glyph == ' ';
        (!again).then(|| (slot, ours(character, glyph)))
    })
}

fn ours(character: &Character, glyph: char) -> Ours {
    Ours {
        glyph,
        probability: character.probability,
        doubtful: character.doubt.is_some(),
        start_s: character.start_s,
    }
}

fn es_n0_db(shelf: &Shelf, copy: &KeptCopy) -> anyhow::Result<Option<f64>> {
    let evening = shelf.evening(copy.evening)?;
    let Some(reading) = evening.best_reading() else {
        return Ok(None);
    };
    let signals = shelf.signals(reading.id)?;
    let signal = signals.iter().find(|s| s.number == copy.signal);
    let measured = signal.and_then(|s| s.latest()).map(|s| s.es_n0_db);
    Ok(measured.filter(|db| db.is_finite()))
}

fn tell(compared: &Compared, zone: &Zone) -> anyhow::Result<()> {
    let mut out = stdout().lock();
    let marker = match marker(None, stdout().is_terminal()) {
        crate::copy::marker::Marker::None => crate::copy::marker::Marker::Brackets,
        other => other,
    };
    for difference in &compared.judged.differences {
        writeln!(out, "{}", compared.line(difference, marker, zone))?;
    }
    writeln!(out, "{}", compared.figure())?;
    writeln!(out, "told          characters  mean   came true")?;
    for row in compared.told() {
        let (from, until, count) = (row.from, row.until, row.characters);
        let (told, came_true) = (row.told, row.came_true);
        writeln!(
            out,
            "{from:.2} to {until:.2}  {count:>10}  {told:.3}  {came_true:.3}"
        )?;
    }
    writeln!(out, "to hand on: {}", compared.result())?;
    Ok(())
}

fn json(compared: &Compared) -> anyhow::Result<()> {
    let mut out = stdout().lock();
    for difference in &compared.judged.differences {
        line_as_it_is(&mut out, &compared.object(difference))?;
    }
    Ok(line_as_it_is(&mut out, &compared.sum(&compared.result()))?)
}
