//! `markhold contacts`: the log of contacts, kept on the shelf as ADIF.

mod options;

pub use options::Options;

use crate::files::read_bytes;
use crate::outcome::{Outcome, say};
use anyhow::{Context, bail};
use jiff::Timestamp;
use jiff::tz::Offset;
use markhold_contact::{Contact, Kept, Log};
use markhold_event::VERSION;
use markhold_shelf::{plain, usual_place};
use options::{Add, Command};
use serde::Serialize;
use std::io::{Write, stdout};
use std::path::Path;

pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let place = options.shelf.clone().or_else(usual_place);
    let place =
        place.context("no home folder to keep contacts in; name a folder with --shelf DIR")?;
    let log = Log::in_folder(&place);
    match &options.command {
        Command::List { json } => list(&log, *json),
        Command::Add(given) => add(&log, given),
        Command::Remove { number } => {
            let gone = log.remove(*number)?;
            say(&format!(
                "contact {number} with {} is out of the log",
                plain(&gone.call)
            ));
            Ok(Outcome::Done)
        }
        Command::Import { file } => import(&log, file),
        Command::Export { out } => export(&log, out),
    }
}

/// A contact as one JSON object.
#[derive(Serialize)]
#[serde(tag = "type", rename = "contact")]
struct Line<'a> {
    version: u32,
    #[serde(flatten)]
    kept: &'a Kept,
}

impl<'a> Line<'a> {
    fn of(kept: &'a Kept) -> Self {
        Line {
            version: VERSION,
            kept,
        }
    }
}

fn list(log: &Log, json: bool) -> anyhow::Result<Outcome> {
    let (kept, troubles) = log.all()?;
    troubles.iter().for_each(|trouble| say(&plain(trouble)));
    let mut out = stdout().lock();
    for contact in &kept {
        match json {
            true => serde_json::to_writer(&mut out, &Line::of(contact))?,
            false => write!(out, "{}", line(contact))?,
        }
        writeln!(out)?;
    }
    Ok(match kept.is_empty() {
        true => Outcome::NothingFound,
        false => Outcome::Done,
    })
}

/// `   3  2026-11-14 19:30 UTC  Q2HLR  80m  gave 599 got 579  JON  (as 1)`.
fn line(kept: &Kept) -> String {
    let contact = &kept.contact;
    let at = Offset::UTC
        .to_datetime(contact.begin)
        .strftime("%Y-%m-%d %H:%M");
    let mut words = vec![format!("{:>4}  {at} UTC  {}", kept.number, contact.call)];
    words.extend(contact.band().map(String::from));
    for (what, text) in [
        ("gave ", &contact.report_sent),
        ("got ", &contact.report_received),
        ("", &contact.name),
        ("", &contact.note),
    ] {
        if !text.is_empty() {
            words.push(format!("{what}{}", plain(text)));
        }
    }
    if let Some(number) = kept.worked_before {
        words.push(format!("(as {number})"));
    }
    words.join("  ")
}

fn add(log: &Log, given: &Add) -> anyhow::Result<Outcome> {
    let begin = match &given.at {
        Some(text) => utc(text)?,
        None => Timestamp::now(),
    };
    log.add(Contact {
        call: given.with.clone(),
        begin,
        frequency_hz: given.khz.map(|khz| khz * 1e3),
        report_sent: given.report.clone().unwrap_or_default(),
        report_received: given.got.clone().unwrap_or_default(),
        name: given.name.clone().unwrap_or_default(),
        number_sent: given.number,
        number_received: given.got_number,
        own: given.call.clone().unwrap_or_default(),
        note: given.note.clone().unwrap_or_default(),
        ..Contact::default()
    })?;
    let (kept, _) = log.all()?;
    if let Some(last) = kept.last() {
        say(&format!("kept: {}", line(last).trim_start()));
    }
    Ok(Outcome::Done)
}

/// A time in UTC.
fn utc(text: &str) -> anyhow::Result<Timestamp> {
    let plain = text.trim_end_matches('Z').replace(' ', "T");
    let at: Result<jiff::civil::DateTime, _> = plain.parse();
    let at = at.ok().and_then(|at| Offset::UTC.to_timestamp(at).ok());
    at.with_context(|| format!("--at {text:?}: expected a time in UTC as 2026-11-14T19:30"))
}

fn import(log: &Log, file: &Path) -> anyhow::Result<Outcome> {
    let bytes = read_bytes(file)?;
    let (new, known, troubles) = log.import(&bytes)?;
    troubles
        .iter()
        .for_each(|trouble| say(&format!("{}: {}", file.display(), plain(trouble))));
    say(&format!(
        "{}: {new} new, {known} known already",
        file.display()
    ));
    if new + known == 0 {
        bail!(
            "{}: no contact could be read; an ADIF file (.adi) was expected",
            file.display()
        );
    }
    Ok(Outcome::Done)
}

fn export(log: &Log, out: &Path) -> anyhow::Result<Outcome> {
    let text = log.export()?;
    if out == Path::new("-") {
        stdout().lock().write_all(text.as_bytes())?;
        return Ok(Outcome::Done);
    }
    let mut file = markhold_sound::create_file(out).with_context(|| out.display().to_string())?;
    file.write_all(text.as_bytes())
        .with_context(|| out.display().to_string())?;
    Ok(Outcome::Done)
}
