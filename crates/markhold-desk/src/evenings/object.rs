//! Evenings as JSON for the page.

use crate::sheet::Row;
use markhold_shelf::{GapCause, Hit, KeptEvening, KeptLine, Reading, Said, Shelf, Traffic};
use serde::Serialize;
use std::sync::Arc;

/// An evening in the list.
#[derive(Serialize)]
pub struct Evening {
    id: i64,
    /// RFC 3339.
    begin: String,
    input: String,
    /// From begin to end, s; null while it is being kept.
    length_s: Option<f64>,
    /// Sound that is there, s.
    sound_s: f64,
    characters: u64,
    doubtful: u64,
    #[serde(flatten)]
    said: Said,
}

impl Evening {
    /// As it stands on the shelf; what cannot be read was not said.
    pub fn of(shelf: &Shelf, evening: &KeptEvening) -> Self {
        let begin = evening.begin.timestamp();
        let best = evening.best_reading();
        Evening {
            id: evening.id,
            begin: begin.to_string(),
            input: evening.input.clone(),
            length_s: evening
                .end
                .map(|end| end.duration_since(begin).as_secs_f64()),
            sound_s: evening.sound_s,
            characters: best.map_or(0, |reading| reading.characters),
            doubtful: best.map_or(0, |reading| reading.doubtful),
            said: shelf.said(evening.id).unwrap_or_default(),
        }
    }
}

/// A line that was found.
#[derive(Serialize)]
pub struct Found {
    evening: i64,
    heard: String,
    at: f64,
    /// `received` or `sent`.
    direction: &'static str,
    text: String,
    /// Probability that it holds the words, where it does not print them.
    #[serde(skip_serializing_if = "Option::is_none")]
    maybe: Option<f32>,
}

impl Found {
    /// As it was found.
    pub fn of(hit: &Hit) -> Self {
        Found {
            evening: hit.evening,
            heard: hit.heard.to_string(),
            at: hit.line.begin_s(),
            direction: hit.line.direction(),
            text: hit.line.text().trim().into(),
            maybe: hit.maybe,
        }
    }
}

/// An evening with the copy of one reading.
#[derive(Serialize)]
pub struct Whole {
    #[serde(flatten)]
    about: Evening,
    gaps: Vec<Missing>,
    readings: Vec<ReadingObject>,
    /// The reading to show, counted from 1, and the one whose lines these are.
    best: usize,
    reading: usize,
    lines: Vec<Line>,
}

/// Sound that is missing.
#[derive(Serialize)]
struct Missing {
    at: f64,
    words: String,
}

#[derive(Serialize)]
struct ReadingObject {
    made: String,
    receiver: String,
    live: bool,
    finished: bool,
    /// A person corrected it.
    by_hand: bool,
    characters: u64,
    doubtful: u64,
}

#[derive(Serialize)]
struct Line {
    /// Null for what was sent from here.
    signal: Option<u32>,
    #[serde(flatten)]
    row: Row,
}

impl Whole {
    /// With this reading, counted from 1, or the one to show. Errors: in words.
    pub fn of(shelf: &Shelf, evening: &KeptEvening, asked: Option<usize>) -> Result<Self, String> {
        let reading = asked.unwrap_or(evening.best + 1);
        let place = reading.checked_sub(1);
        let found = place.and_then(|at| evening.readings.get(at));
        let mut lines = Vec::new();
        if let Some(found) = found {
            let mut take = |line: Traffic| {
                if !line.text().trim().is_empty() {
                    lines.push(Line::of(&line));
                }
            };
            let read = shelf.traffic(evening.id, found.id, &mut take);
            read.map_err(|error| error.to_string())?;
        }
        let missing = |gap: &markhold_shelf::Gap| Missing {
            at: gap.begin_s,
            words: missing(gap),
        };
        Ok(Whole {
            about: Evening::of(shelf, evening),
            gaps: evening.gaps.iter().map(missing).collect(),
            readings: evening.readings.iter().map(reading_object).collect(),
            best: evening.best + 1,
            reading,
            lines,
        })
    }
}

impl Line {
    fn of(line: &Traffic) -> Self {
        let (signal, row) = match line {
            Traffic::Received(line) => (Some(line.signal), row(line)),
            Traffic::Sent(line) => (None, Row::of_sent(line)),
        };
        Line { signal, row }
    }
}

fn reading_object(reading: &Reading) -> ReadingObject {
    ReadingObject {
        made: reading.made.to_string(),
        receiver: reading.receiver.clone(),
        live: reading.live,
        finished: reading.finished,
        by_hand: reading.corrects.is_some(),
        characters: reading.characters,
        doubtful: reading.doubtful,
    }
}

/// What is printed of a line, each character with its doubt.
fn row(line: &KeptLine) -> Row {
    let mut row = Row::default();
    let mut strike = |glyph: char, of| {
        if !glyph.is_control() {
            let column = row.struck.len().try_into().unwrap_or(u16::MAX);
            row.strike(column, glyph, of);
        }
    };
    match line.characters() {
        Ok(characters) => {
            for character in characters {
                if let Some(glyph) = character.symbol.printed() {
                    strike(glyph, Some((Arc::new(character), false)));
                }
            }
        }
        Err(_) => line.text.chars().for_each(|glyph| strike(glyph, None)),
    }
    row.begin_s = Some(line.begin_s);
    row
}

fn missing(gap: &markhold_shelf::Gap) -> String {
    let why = match gap.cause {
        GapCause::Lost => "samples were lost on the way",
        GapCause::Device => "the input was gone",
        GapCause::Stopped => "listening was stopped",
        GapCause::SlowDisk => "the disk was too slow",
        GapCause::FullDisk => "the disk was full",
        GapCause::Disk => "the disk failed",
        GapCause::Deleted => "its file was deleted or moved away",
        _ => "why is not known here",
    };
    match gap.length_s {
        Some(length_s) => format!("{length_s:.1} s of sound are missing: {why}"),
        None => format!("sound is missing, how much is not known: {why}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_event::SentLine;

    #[test]
    fn what_may_hold_the_words_says_how_likely_that_is() {
        let hit = |maybe| Hit {
            evening: 7,
            reading: None,
            heard: jiff::Timestamp::UNIX_EPOCH,
            maybe,
            line: Traffic::Sent(SentLine {
                number: 0,
                at_s: 1.5,
                text: "DE QRNTZ K".into(),
                closed: true,
            }),
        };
        let told = |maybe| serde_json::to_value(Found::of(&hit(maybe))).expect("JSON");
        assert_eq!(told(Some(0.25))["maybe"], 0.25);
        assert!(told(None).get("maybe").is_none(), "it prints them");
    }
}
