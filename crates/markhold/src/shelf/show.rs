//! `markhold shelf show`.

use super::marked::either;
use super::object::{Object, SentObject, line};
use super::options::Show;
use super::when::{Zone, length};
use crate::copy::json::Json;
use crate::copy::marker::Marker;
use crate::copy::options::marker;
use crate::copy::output::Output;
use crate::outcome::{Outcome, say};
use crate::words;
use markhold_event::{Character, Event, SentLine};
use markhold_shelf::{
    ClockStep, Gap, GapCause, KeptEvening, KeptSignal, Reading, Shelf, Traffic, plain,
};
use std::io::{self, IsTerminal, Write, stdout};
use std::iter::Peekable;

pub fn run(shelf: &Shelf, show: &Show, zone: &Zone) -> anyhow::Result<Outcome> {
    let evening = super::evening(shelf, &show.which.evening, zone)?;
    let reading = super::reading(&evening, &show.which)?;
    let out = stdout();
    if show.json {
        json(shelf, &evening, reading, &mut out.lock())?;
    } else {
        say(&heading(&evening, zone));
        let said = shelf.said(evening.id).unwrap_or_default();
        for text in [&said.station, &said.note] {
            if !text.is_empty() {
                say(&markhold_shelf::plain(text));
            }
        }
        say(&about_reading(&evening, reading));
        evening
            .gaps
            .iter()
            .for_each(|gap| say(&about_gap(&evening, gap, zone)));
        let steps = evening.clock_steps.iter();
        steps.for_each(|step| say(&about_step(&evening, step, zone)));
        let marker = marker(show.doubt, out.is_terminal());
        text(shelf, &evening, reading, zone, marker, &mut out.lock())?;
    }
    Ok(match reading.characters {
        // What was sent is something to show.
        0 if shelf.sent(evening.id)?.is_empty() => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}

/// `Evening 12, 2026-03-21 20:30:05 CET, 1 h 12 min, receiver on the marsh`.
pub fn heading(evening: &KeptEvening, zone: &Zone) -> String {
    let begin = zone.full(&evening.begin);
    let duration = match evening.end {
        None => "being kept".to_string(),
        Some(end) => length(end.duration_since(evening.begin.timestamp()).as_secs_f64()),
    };
    let names = match evening.names.is_empty() {
        true => String::new(),
        false => format!("{}, ", plain(&evening.names.join(" and "))),
    };
    format!(
        "Evening {}, {names}{begin}, {duration}, {}",
        evening.id, evening.input
    )
}

/// `20:31:12 CET: 3.2 s of sound are missing: the device was gone`.
pub fn about_gap(evening: &KeptEvening, gap: &Gap, zone: &Zone) -> String {
    let begin = zone.clock(&evening.time(gap.begin_s));
    let length = match gap.length_s {
        Some(length_s) => format!("{length_s:.1} s of sound are missing"),
        None => "sound is missing, how much is not known".to_string(),
    };
    let why = match gap.cause {
        GapCause::Lost => "samples were lost on the way",
        GapCause::Device => "the device was gone",
        GapCause::Stopped => "listening was stopped",
        GapCause::SlowDisk => "the disk was too slow",
        GapCause::FullDisk => "the disk was full",
        GapCause::Disk => "the disk failed",
        GapCause::Deleted => "its file was deleted or moved away",
        _ => "why is not known here",
    };
    format!("{begin}: {length}: {why}")
}

/// `20:31:12 CET: the computer's clock was put forward by 24 h 00 min; times go on as before`.
pub fn about_step(evening: &KeptEvening, step: &ClockStep, zone: &Zone) -> String {
    let at = zone.clock(&evening.time(step.at_s));
    let which = if step.by_s < 0.0 { "back" } else { "forward" };
    let by = length(step.by_s.abs());
    format!("{at}: the computer's clock was put {which} by {by}; times here go on as before")
}

/// `Reading 1 of 2, live, by markhold 0.1.0: 4312 characters, 2 % doubtful, 12 by language`.
pub fn about_reading(evening: &KeptEvening, reading: &Reading) -> String {
    let number = evening
        .readings
        .iter()
        .position(|r| r.id == reading.id)
        .map_or(0, |at| at + 1);
    let how = match (reading.live, reading.finished, reading.whole) {
        (true, true, _) => format!("live{}", not_copied(reading)),
        (true, false, _) => "live".to_string(),
        (false, true, _) if reading.again_from_s.is_some_and(|from_s| from_s > 0.0) => {
            let from_s = reading.again_from_s.unwrap_or(0.0);
            let from = words::time(from_s);
            format!("live until {from}, copied again from there on: listening had broken off")
        }
        (false, false, _) => "copied again, broken off".to_string(),
        (false, true, true) => "copied again".to_string(),
        (false, true, false) => "copied again from part of the sound".to_string(),
    };
    let doubtful = 100.0 * reading.doubtful as f64 / reading.characters.max(1) as f64;
    format!(
        "Reading {number} of {}, {how}, by {}: {} characters, {doubtful:.0} % doubtful{}",
        evening.readings.len(),
        reading.receiver,
        reading.characters,
        about_language(reading)
    )
}

/// What a crash or a quick end left uncopied, less than a few characters passed over.
fn not_copied(reading: &Reading) -> String {
    let left_s = reading.heard_s - reading.copied_s;
    match left_s > 0.5 {
        true => format!(
            ", the last {} not copied yet: that is done at the desk's next start, or by `markhold \
             shelf again`",
            words::time(left_s)
        ),
        false => String::new(),
    }
}

fn about_language(reading: &Reading) -> String {
    match (reading.changed, reading.settings["language"].as_str()) {
        (None, _) => ", what language changed was not kept".to_string(),
        (Some(0), Some("off")) => ", language off".to_string(),
        (Some(count), Some("mark")) => format!(", {count} where language differs"),
        (Some(count), _) => format!(", {count} changed by language"),
    }
}

/// Every object of a reading.
pub fn json(
    shelf: &Shelf,
    evening: &KeptEvening,
    reading: &Reading,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    line(out, &Object::from(evening))?;
    let sent = shelf.sent(evening.id)?;
    let mut sent = sent.iter().peekable();
    let mut result = Ok(());
    shelf.events(reading.id, &mut |event| {
        if result.is_ok() {
            result = sent_before(&event, &mut sent, out)
                .and_then(|()| Json::new(&mut *out).event(&event));
        }
    })?;
    result?;
    for rest in sent {
        line(out, &SentObject::from(rest))?;
    }
    Ok(())
}

/// Prints what was sent before a character.
fn sent_before<'a>(
    event: &Event,
    sent: &mut Peekable<impl Iterator<Item = &'a SentLine>>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let (Event::Character(Character { start_s, .. }) | Event::Unlikely(Character { start_s, .. })) =
        event
    else {
        return Ok(());
    };
    while let Some(before) = sent.next_if(|sent| sent.at_s <= *start_s) {
        line(out, &SentObject::from(before))?;
    }
    Ok(())
}

fn text(
    shelf: &Shelf,
    evening: &KeptEvening,
    reading: &Reading,
    zone: &Zone,
    marker: Marker,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let signals = shelf.signals(reading.id)?;
    let mut last = None;
    let mut print = |line: &Traffic| -> io::Result<()> {
        let of = match line {
            Traffic::Received(line) => Some(line.signal),
            Traffic::Sent(_) => None,
        };
        if last.replace(of) != Some(of) {
            writeln!(out, "== {} ==", about(of, &signals))?;
        }
        let time = zone.clock(&evening.time(line.begin_s()));
        writeln!(out, "{time}  {}", either(line, marker))
    };
    let mut result = Ok(());
    shelf.traffic(evening.id, reading.id, &mut |line| {
        if result.is_ok() && !line.text().trim().is_empty() {
            result = print(&line);
        }
    })?;
    Ok(result?)
}

/// What stands above lines of a signal, or of what was sent.
pub fn about(signal: Option<u32>, signals: &[KeptSignal]) -> String {
    let Some(number) = signal else {
        return "sent from here".to_string();
    };
    let signal = signals.iter().find(|s| s.number == number);
    let pair = signal.and_then(|s| s.latest()).map(words::pair);
    format!("signal {number}: {}", pair.unwrap_or_default())
}
