//! What an evening's folder knows of itself, so that its archive can be made again.
//!
//! `evening.jsonl` holds a note a line, in the order they came. It is written beside the sound
//! and put on the disk at once; it needs no archive. What cannot be read in it is passed over.

use super::evening::{ClockStep, Evening, Gap, GapCause};
use super::settling::Settle;
use jiff::ZonedDateTime;
use markhold_event::{SentLine, StationId};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

/// The file in the evening's folder.
pub(super) const NOTES: &str = "evening.jsonl";

/// Most bytes of notes that are read: ten thousand gaps, or a night of nothing but sending.
const MOST_BYTES: u64 = 1 << 23;

/// One note.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "note", rename_all = "kebab-case")]
pub(super) enum Note {
    /// The evening began.
    Evening {
        /// With its time zone, as in RFC 9557.
        begin: String,
        input: String,
        rate: u32,
        settings: Value,
    },
    /// The archive of this station knows it under this number.
    Number {
        number: i64,
        /// Missing in notes of before.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        station: Option<String>,
    },
    /// Sound is missing.
    Gap {
        begin_s: f64,
        length_s: Option<f64>,
        cause: String,
    },
    /// Another input.
    Input { input: String },
    /// The computer's clock was put forward (or back, below 0).
    Clock { at_s: f64, by_s: f64 },
    /// A line was sent from here; one of the same number is it as it was before it grew.
    Sent { line: u64, at_s: f64, text: String },
    /// The receiver is set like this from now on.
    Settings { settings: Value },
    /// It ended.
    End { heard_s: f64 },
}

impl Note {
    pub(super) fn of_evening(evening: &Evening) -> Self {
        Note::Evening {
            begin: evening.begin.to_string(),
            input: evening.input.clone(),
            rate: evening.rate,
            settings: evening.settings.clone(),
        }
    }

    pub(super) fn of_number(number: i64, station: StationId) -> Self {
        let station = Some(station.to_string());
        Note::Number { number, station }
    }

    pub(super) fn of_gap(gap: &Gap) -> Self {
        Note::Gap {
            begin_s: gap.begin_s,
            length_s: gap.length_s,
            cause: gap.cause.word().to_string(),
        }
    }
}

/// Writes notes. What cannot be written waits for the next time.
#[derive(Debug, Default)]
pub(super) struct Notes {
    /// All of the evening, so that they can be written again elsewhere.
    all: Vec<Note>,
    file: Option<File>,
    /// How many of them the file holds.
    written: usize,
    /// How many of them were to be put on the disk itself.
    settled: usize,
}

impl Notes {
    /// Into this folder, which was just made, from now on; all so far go first.
    pub(super) fn move_to(&mut self, folder: &Path) {
        let path = folder.join(NOTES);
        self.file = File::options()
            .append(true)
            .create_new(true)
            .open(path)
            .ok();
        (self.written, self.settled) = (0, 0);
        self.write();
    }

    pub(super) fn add(&mut self, note: Note) {
        self.all.push(note);
        self.write();
    }

    fn write(&mut self) {
        let (Some(file), Some(new)) = (&mut self.file, self.all.get(self.written..)) else {
            return;
        };
        // A line that broke off is closed by the new line before the next.
        let lines = new
            .iter()
            .filter_map(|note| serde_json::to_string(note).ok());
        let text: String = lines.flat_map(|line| ["\n".to_string(), line]).collect();
        let whole = format!("{text}\n");
        if file.write_all(whole.as_bytes()).is_ok() {
            self.written = self.all.len();
        }
    }

    /// What puts on the disk itself all that was written and was not returned by this before.
    pub(super) fn settling(&mut self) -> Option<Settle> {
        let file = self.file.as_ref().filter(|_| self.settled < self.written)?;
        let file = file.try_clone().ok()?;
        self.settled = self.written;
        Some(Box::new(move || file.sync_data()))
    }
}

/// What the notes of a folder say together.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Noted {
    pub(super) begin: Option<ZonedDateTime>,
    pub(super) number: Option<i64>,
    /// Whose evening it is.
    pub(super) station: Option<StationId>,
    /// All inputs in the order they came.
    pub(super) inputs: Vec<String>,
    /// How the receiver was set at the beginning.
    pub(super) settings: Option<Value>,
    /// How the receiver was set last.
    pub(super) last_settings: Option<Value>,
    pub(super) gaps: Vec<Gap>,
    pub(super) steps: Vec<ClockStep>,
    pub(super) sent: Vec<SentLine>,
    /// It ended in good order.
    pub(super) ended: bool,
}

/// Reads the notes of a folder; empty where there are none.
pub(super) fn read(folder: &Path) -> Noted {
    let mut noted = Noted::default();
    for line in text(&folder.join(NOTES)).lines() {
        if let Ok(note) = serde_json::from_str(line) {
            noted.take(note);
        }
    }
    noted
}

fn text(path: &Path) -> String {
    let mut bytes = Vec::new();
    if super::folder::is_file(path)
        && let Ok(file) = File::open(path)
    {
        // Half a file is better than none.
        let _ = file.take(MOST_BYTES).read_to_end(&mut bytes);
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

impl Noted {
    fn take(&mut self, note: Note) {
        match note {
            Note::Evening {
                begin,
                input,
                settings,
                ..
            } => {
                self.begin = begin.parse().ok().or(self.begin.take());
                self.inputs.push(input);
                self.last_settings = Some(settings.clone());
                self.settings.get_or_insert(settings);
            }
            Note::Number { number, station } => {
                self.number = Some(number);
                self.station = station.and_then(|name| named(&name));
            }
            Note::Gap {
                begin_s,
                length_s,
                cause,
            } => {
                let cause = GapCause::from_word(&cause);
                self.gaps.push(Gap {
                    begin_s,
                    length_s,
                    cause,
                });
            }
            Note::Input { input } => self.inputs.push(input),
            Note::Clock { at_s, by_s } => self.steps.push(ClockStep { at_s, by_s }),
            Note::Sent { line, at_s, text } => self.sent.push(SentLine {
                number: line,
                at_s,
                text,
                closed: true,
            }),
            Note::Settings { settings } => self.last_settings = Some(settings),
            Note::End { .. } => self.ended = true,
        }
    }
}

/// As [`StationId`] is written.
fn named(name: &str) -> Option<StationId> {
    u64::from_str_radix(name, 16).ok().map(StationId)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evening() -> Evening {
        Evening {
            begin: "2026-03-21T20:30:05.25+01:00[Europe/Berlin]"
                .parse()
                .unwrap(),
            input: "receiver on the marsh".into(),
            rate: 8000,
            settings: serde_json::json!({"all": true}),
        }
    }

    #[test]
    fn notes_come_back_and_a_broken_line_costs_only_itself() {
        let folder = tempfile::tempdir().unwrap();
        let mut notes = Notes::default();
        notes.add(Note::of_evening(&evening()));
        notes.move_to(folder.path());
        notes.add(Note::of_number(12, StationId(7)));
        let path = folder.path().join(NOTES);
        let mut file = File::options().append(true).open(&path).unwrap();
        file.write_all(b"{\"note\":\"gap\",\"begi").unwrap();
        let gap = Gap {
            begin_s: 1.5,
            length_s: None,
            cause: GapCause::Lost,
        };
        notes.add(Note::of_gap(&gap));
        notes.add(Note::Clock {
            at_s: 2.0,
            by_s: 86_400.0,
        });
        let noted = read(folder.path());
        assert_eq!(noted.begin, Some(evening().begin));
        assert_eq!(
            (noted.number, noted.station),
            (Some(12), Some(StationId(7)))
        );
        assert_eq!(
            (noted.inputs, noted.gaps),
            (vec![evening().input], vec![gap])
        );
        assert_eq!(
            noted.steps,
            [ClockStep {
                at_s: 2.0,
                by_s: 86_400.0
            }]
        );
        assert_eq!(noted.last_settings, Some(evening().settings));
    }

    #[test]
    fn what_is_no_file_of_notes_says_nothing() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path()), Noted::default());
        std::fs::create_dir(folder.path().join(NOTES)).unwrap();
        assert_eq!(read(folder.path()), Noted::default());
    }
}
