//! An evening as a page: one file, no script, nothing fetched from anywhere.

use super::show::{about, about_gap, about_reading, heading};
use super::when::Zone;
use markhold_event::{Alternative, Character, Doubt, Witnesses};
use markhold_shelf::{KeptEvening, KeptLine, Reading, Shelf, Traffic};
use std::io::{self, Write};

const STYLE: &str = "\
body { font: 16px/1.4 serif; margin: 2em auto; max-width: 52em; color: #222; background: #fdfbf5 }
td { font: 15px/1.35 monospace; white-space: pre-wrap; vertical-align: top }
td.t { color: #777; padding-right: 1.5em; white-space: nowrap }
tr.sent td { font-style: italic; border-left: 4px double #a33; padding-left: 0.6em }
mark { background: #ffe9a8; color: inherit; cursor: help }
em { border-bottom: 2px dotted currentcolor; cursor: help }
@media (prefers-color-scheme: dark) { body { color: #ddd; background: #1b1a17 } mark { background: #5c4a12 } }";

/// Writes the page.
pub fn write(
    shelf: &Shelf,
    evening: &KeptEvening,
    reading: &Reading,
    zone: &Zone,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let title = escaped(&heading(evening, zone));
    writeln!(
        out,
        "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">"
    )?;
    writeln!(
        out,
        "<title>{title}</title>\n<style>\n{STYLE}\n</style>\n<h1>{title}</h1>"
    )?;
    writeln!(out, "<p>{}</p>", escaped(&about_reading(evening, reading)))?;
    for gap in &evening.gaps {
        writeln!(out, "<p>{}</p>", escaped(&about_gap(evening, gap, zone)))?;
    }
    lines(shelf, evening, reading, zone, out)?;
    Ok(writeln!(out, "</html>")?)
}

fn lines(
    shelf: &Shelf,
    evening: &KeptEvening,
    reading: &Reading,
    zone: &Zone,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let signals = shelf.signals(reading.id)?;
    let mut is_first = true;
    let mut last = None;
    let mut print = |line: &Traffic| -> io::Result<()> {
        let (of, shown) = match line {
            Traffic::Received(line) => (Some(line.signal), text(line)),
            Traffic::Sent(line) => (None, escaped(&line.text)),
        };
        if last.replace(of) != Some(of) {
            let end = if is_first { "" } else { "</table>\n" };
            let head = escaped(&about(of, &signals));
            let mut head = head.chars();
            let first: String = head
                .next()
                .into_iter()
                .flat_map(char::to_uppercase)
                .collect();
            writeln!(out, "{end}<h2>{first}{}</h2>\n<table>", head.as_str())?;
            is_first = false;
        }
        let class = if of.is_none() { " class=\"sent\"" } else { "" };
        let time = zone.clock(&evening.time(line.begin_s()));
        writeln!(out, "<tr{class}><td class=\"t\">{time}<td>{shown}")
    };
    let mut result = Ok(());
    shelf.traffic(evening.id, reading.id, &mut |line| {
        if result.is_ok() && !line.text().trim().is_empty() {
            result = print(&line);
        }
    })?;
    result?;
    if !is_first {
        writeln!(out, "</table>")?;
    }
    Ok(())
}

fn text(line: &KeptLine) -> String {
    match line.characters() {
        Ok(characters) => characters.iter().filter_map(character).collect(),
        Err(_) => escaped(&line.text),
    }
}

/// Doubtful characters are marked, those that language changed slanted and underlined; both
/// say why.
fn character(character: &Character) -> Option<String> {
    let printed = escaped(character.symbol.printed()?.encode_utf8(&mut [0; 4]));
    let by_language = character.witnesses.filter(|both| both.differ());
    let said: Vec<String> = [
        character.doubt.map(|d| doubtful(character, d)),
        by_language.map(changed),
    ]
    .into_iter()
    .flatten()
    .collect();
    let title = escaped(&said.join("; "));
    Some(match (character.doubt.is_some(), by_language.is_some()) {
        (false, false) => printed,
        (true, false) => format!("<mark title=\"{title}\">{printed}</mark>"),
        (false, true) => format!("<em title=\"{title}\">{printed}</em>"),
        (true, true) => format!("<mark title=\"{title}\"><em>{printed}</em></mark>"),
    })
}

fn doubtful(character: &Character, doubt: Doubt) -> String {
    let others = character.alternatives.iter();
    let others = others.filter(|other| other.probability > 0.0);
    let others = others.filter_map(|other| {
        let glyph = other.symbol.printed()?;
        Some(format!(", {glyph} {}", percent(other.probability)))
    });
    format!(
        "{}; {}{}",
        doubt,
        percent(character.probability),
        others.collect::<String>()
    )
}

/// What each of both says, in words.
fn changed(both: Witnesses) -> String {
    let named = |one: &Alternative| match one.symbol.printed() {
        Some(glyph) => format!("{glyph} {}", percent(one.probability)),
        None => format!("no character {}", percent(one.probability)),
    };
    format!(
        "signal alone: {}, with language: {}",
        named(&both.signal),
        named(&both.both)
    )
}

fn percent(probability: f32) -> String {
    format!("{:.0} %", 100.0 * probability)
}

/// Text that means itself in HTML, also between quotes.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
