//! One JSON object per line, for scripts.
//!
//! | `type` | what |
//! |---|---|
//! | `evening` | an evening with its gaps and readings |
//! | `line` | a line found, with its direction: received or sent |
//! | `sent` | a line that was sent from here, between what was received; seconds as below |
//! | `signal`, `character`, `end` | as in `markhold copy --json`; seconds from the evening's first sample |

use crate::copy::marker::Marker;
use markhold_event::{SentLine, VERSION};
use markhold_shelf::{ClockStep, Gap, Hit, KeptEvening, Reading, Traffic};
use serde::Serialize;
use std::io::{self, Write};

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Object<'a> {
    Evening {
        /// Whose evening it is, and its number there; station, number, signal and id name a
        /// character.
        station: String,
        number: i64,
        /// Its number here.
        evening: i64,
        /// The skeds that were heard in it.
        names: &'a [String],
        begin: String,
        zone: String,
        end: Option<String>,
        input: &'a str,
        settings: &'a serde_json::Value,
        sound_s: f64,
        sound_bytes: u64,
        removed_s: f64,
        /// Whether its copy may be learned from.
        teaches: bool,
        gaps: Vec<GapObject>,
        clock_steps: Vec<StepObject>,
        readings: Vec<ReadingObject<'a>>,
        /// The reading to show, counted from 1.
        best: usize,
    },
    Line {
        evening: i64,
        /// `received`, or `sent` from here; then what only copy has is null.
        direction: &'static str,
        reading: Option<i64>,
        signal: Option<u32>,
        heard: String,
        begin_s: f64,
        doubtful: u64,
        /// How many language made others, or would have; null where that was not kept.
        changed: Option<u64>,
        text: &'a str,
        /// The text with what is doubtful between [ and ], what language changed between
        /// { and }.
        marked: String,
        /// Probability that it holds the words, where it does not print them.
        maybe: Option<f64>,
    },
}

#[derive(Serialize)]
pub struct GapObject {
    begin_s: f64,
    /// Null where nobody knows it.
    length_s: Option<f64>,
    cause: &'static str,
}

/// The computer's clock was put forward by so many seconds (back, below 0).
#[derive(Serialize)]
pub struct StepObject {
    at_s: f64,
    by_s: f64,
}

#[derive(Serialize)]
pub struct ReadingObject<'a> {
    made: String,
    receiver: &'a str,
    settings: &'a serde_json::Value,
    live: bool,
    whole: bool,
    finished: bool,
    heard_s: f64,
    /// Until where it was copied.
    copied_s: f64,
    /// From where on it was copied again; null for one piece.
    again_from_s: Option<f64>,
    characters: u64,
    doubtful: u64,
    changed: Option<u64>,
    signals: u64,
    /// Characters expected to be right less those expected to be wrong; null of one that is not
    /// finished, or a person's.
    certainty: Option<f64>,
}

impl<'a> From<&'a KeptEvening> for Object<'a> {
    fn from(evening: &'a KeptEvening) -> Self {
        Object::Evening {
            station: evening.station.to_string(),
            number: evening.number,
            evening: evening.id,
            names: &evening.names,
            begin: evening.begin.timestamp().to_string(),
            zone: evening
                .begin
                .time_zone()
                .iana_name()
                .map_or_else(|| evening.begin.offset().to_string(), ToString::to_string),
            end: evening.end.map(|end| end.to_string()),
            input: &evening.input,
            settings: &evening.settings,
            sound_s: rounded(evening.sound_s),
            sound_bytes: evening.sound_bytes,
            removed_s: rounded(evening.removed_s),
            teaches: evening.teaches,
            gaps: evening.gaps.iter().map(GapObject::from).collect(),
            clock_steps: evening.clock_steps.iter().map(StepObject::from).collect(),
            readings: evening.readings.iter().map(ReadingObject::from).collect(),
            best: evening.best + 1,
        }
    }
}

impl From<&Gap> for GapObject {
    fn from(gap: &Gap) -> Self {
        GapObject {
            begin_s: rounded(gap.begin_s),
            length_s: gap.length_s.map(rounded),
            cause: gap.cause.word(),
        }
    }
}

impl From<&ClockStep> for StepObject {
    fn from(step: &ClockStep) -> Self {
        StepObject {
            at_s: rounded(step.at_s),
            by_s: rounded(step.by_s),
        }
    }
}

impl<'a> From<&'a Reading> for ReadingObject<'a> {
    fn from(reading: &'a Reading) -> Self {
        ReadingObject {
            made: reading.made.to_string(),
            receiver: &reading.receiver,
            settings: &reading.settings,
            live: reading.live,
            whole: reading.whole,
            finished: reading.finished,
            heard_s: rounded(reading.heard_s),
            copied_s: rounded(reading.copied_s),
            again_from_s: reading.again_from_s.map(rounded),
            characters: reading.characters,
            doubtful: reading.doubtful,
            changed: reading.changed,
            signals: reading.signals,
            certainty: reading.certainty.map(|c| markhold_event::rounded(c, 1)),
        }
    }
}

impl<'a> From<&'a Hit> for Object<'a> {
    fn from(hit: &'a Hit) -> Self {
        let line = match &hit.line {
            Traffic::Received(line) => Some(line),
            Traffic::Sent(_) => None,
        };
        Object::Line {
            evening: hit.evening,
            direction: hit.line.direction(),
            reading: hit.reading,
            signal: line.map(|line| line.signal),
            heard: hit.heard.to_string(),
            begin_s: rounded(hit.line.begin_s()),
            doubtful: line.map_or(0, |line| line.doubtful),
            changed: line.map_or(Some(0), |line| line.changed),
            text: hit.line.text(),
            marked: super::marked::either(&hit.line, Marker::Brackets),
            maybe: hit.maybe.map(|p| markhold_event::rounded(f64::from(p), 3)),
        }
    }
}

/// A line that was sent, as [`markhold_event`] writes it.
#[derive(Serialize)]
pub struct SentObject<'a> {
    direction: &'static str,
    #[serde(flatten)]
    line: &'a SentLine,
}

impl<'a> From<&'a SentLine> for SentObject<'a> {
    fn from(line: &'a SentLine) -> Self {
        SentObject {
            direction: "sent",
            line,
        }
    }
}

/// To 0.1 ms.
fn rounded(seconds: f64) -> f64 {
    markhold_event::rounded(seconds, 4)
}

/// An object with the version of its form.
#[derive(Serialize)]
struct Versioned<'a, T> {
    #[serde(flatten)]
    object: &'a T,
    version: u32,
}

/// Prints any object as a line, with the version of its form.
pub fn line(out: &mut dyn Write, object: &impl Serialize) -> io::Result<()> {
    let version = VERSION;
    line_as_it_is(out, &Versioned { object, version })
}

/// Prints an object that bears a version of its own as a line.
pub fn line_as_it_is(out: &mut dyn Write, object: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer(&mut *out, object)?;
    out.write_all(b"\n")
}
