//! `markhold shelf export`.

use super::html;
use super::marked::either;
use super::options::{Export, Format};
use super::show;
use super::when::Zone;
use crate::copy::lines::Lines;
use crate::copy::marker::Marker;
use crate::copy::options::Doubt;
use crate::copy::output::{End, Output};
use crate::copy::running::Running;
use crate::outcome::{Outcome, say};
use anyhow::{Context, anyhow, bail};
use markhold_shelf::{KeptEvening, Reading, Shelf, io_words};
use markhold_sound::create_file;
use std::io::{BufWriter, Write, stdout};
use std::path::Path;

pub fn run(shelf: &Shelf, export: &Export, zone: &Zone) -> anyhow::Result<Outcome> {
    let evening = super::evening(shelf, &export.which.evening, zone)?;
    let reading = super::reading(&evening, &export.which)?;
    let is_pipe = export.out == Path::new("-");
    if export.format == Format::Sigmf {
        if is_pipe {
            bail!("sigmf makes several files: name a folder with --out");
        }
        let files = shelf.export_sigmf(evening.id, reading.id, &export.out)?;
        files
            .iter()
            .for_each(|file| say(&format!("wrote {}", file.display())));
        return Ok(Outcome::Done);
    }
    let name = || export.out.display().to_string();
    let mut out: Box<dyn Write> = match is_pipe {
        true => Box::new(stdout().lock()),
        false => Box::new(BufWriter::new(
            create_file(&export.out)
                .map_err(in_words)
                .with_context(name)?,
        )),
    };
    write(shelf, export, &evening, reading, zone, &mut *out)
        .and_then(|()| Ok(out.flush()?))
        .map_err(|error| match error.downcast::<std::io::Error>() {
            Ok(io) => in_words(io),
            Err(other) => other,
        })
        .with_context(name)?;
    Ok(Outcome::Done)
}

/// An error of the system as a sentence; a reader that went away stays what it is.
fn in_words(error: std::io::Error) -> anyhow::Error {
    match error.kind() {
        std::io::ErrorKind::BrokenPipe => error.into(),
        _ => anyhow!(io_words(&error)),
    }
}

fn write(
    shelf: &Shelf,
    export: &Export,
    evening: &KeptEvening,
    reading: &Reading,
    zone: &Zone,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    match export.format {
        Format::Text if !shelf.sent(evening.id)?.is_empty() => {
            both(shelf, evening, reading, export.doubt, out)
        }
        Format::Text => text(shelf, reading, export.doubt, out),
        Format::Html => html::write(shelf, evening, reading, zone, out),
        Format::Jsonl | Format::Sigmf => show::json(shelf, evening, reading, out),
    }
}

fn marker(doubt: Doubt) -> Marker {
    match doubt {
        Doubt::Plain => Marker::None,
        Doubt::Marked => Marker::Brackets,
    }
}

/// Line by line in order of time; what was sent from here begins with `> `.
fn both(
    shelf: &Shelf,
    evening: &KeptEvening,
    reading: &Reading,
    doubt: Doubt,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut result = Ok(());
    shelf.traffic(evening.id, reading.id, &mut |line| {
        if result.is_ok() {
            result = writeln!(out, "{}", either(&line, marker(doubt)));
        }
    })?;
    Ok(result?)
}

/// The same text as `markhold copy` prints; with headings where there are several signals.
fn text(shelf: &Shelf, reading: &Reading, doubt: Doubt, out: &mut dyn Write) -> anyhow::Result<()> {
    let marker = marker(doubt);
    let mut output: Box<dyn Output> = match reading.signals {
        0 | 1 => Box::new(Running::new(out, marker)),
        _ => Box::new(Lines::new(out, marker)),
    };
    let mut result = Ok(());
    shelf.events(reading.id, &mut |event| {
        if result.is_ok() {
            result = output.event(&event);
        }
    })?;
    result?;
    Ok(output.end(&End {
        name: "",
        length_s: reading.heard_s,
        signals: reading.signals,
        characters: reading.characters,
        notices: &[],
        error: None,
    })?)
}
