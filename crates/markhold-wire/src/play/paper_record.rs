//! What went to paper, kept: one file a day, a JSON object for every code.

use jiff::{Timestamp, civil::Date, tz::TimeZone};
use markhold_code::{Code, Shift, ShiftMachine};
use markhold_page::{Machine, Source};
use serde::Serialize;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::PathBuf;

/// One line of the record.
#[derive(Serialize)]
struct Sent {
    /// When the code had left, UTC.
    time: String,
    /// The code's value, 0 to 31.
    code: u8,
    /// The shift in which the machine read it.
    shift: &'static str,
    /// What it printed or did; null for what leaves nothing in text.
    glyph: Option<char>,
    /// Probability of the character of copy; null for what line discipline added.
    probability: Option<f32>,
    /// Whether it was doubtful.
    doubtful: bool,
}

/// Keeps what was sent to one machine.
///
/// Lines are appended to `paper-2026-03-21.jsonl` in the folder, by the date in UTC. Each is
/// written as a whole as soon as its code has left, so a crash loses nothing.
#[derive(Debug)]
pub struct PaperRecord {
    // Configured.
    folder: PathBuf,
    clock: fn() -> Timestamp,
    // State.
    shift: ShiftMachine,
    file: Option<(Date, File)>,
}

impl PaperRecord {
    /// A record in this folder, which is made if it is not there.
    ///
    /// # Errors
    ///
    /// The system's, if the folder cannot be made.
    pub fn new(folder: impl Into<PathBuf>, machine: &Machine) -> io::Result<Self> {
        Self::with_clock(folder, machine, Timestamp::now)
    }

    pub(super) fn with_clock(
        folder: impl Into<PathBuf>,
        machine: &Machine,
        clock: fn() -> Timestamp,
    ) -> io::Result<Self> {
        let folder = folder.into();
        std::fs::create_dir_all(&folder)?;
        Ok(PaperRecord {
            folder,
            clock,
            shift: ShiftMachine::new(machine.figures, machine.unshift_on_space),
            file: None,
        })
    }

    /// Keeps one code that has left just now.
    ///
    /// # Errors
    ///
    /// The system's; the next code is tried again.
    pub fn sent(&mut self, code: Code, source: Option<Source>) -> io::Result<()> {
        let now = (self.clock)();
        let shift = match self.shift.shift() {
            Shift::Letters => "letters",
            Shift::Figures => "figures",
        };
        let sent = Sent {
            time: format!("{now:.3}"),
            code: code.value(),
            shift,
            glyph: self.shift.receive(code).text(),
            probability: source.map(|source| source.probability),
            doubtful: source.is_some_and(|source| source.doubtful),
        };
        let mut line = serde_json::to_vec(&sent)?;
        line.push(b'\n');
        let result = self.file(now)?.write_all(&line);
        if result.is_err() {
            // Opened again for the next one: the disk may be back.
            self.file = None;
        }
        result
    }

    /// The file of this day.
    fn file(&mut self, now: Timestamp) -> io::Result<&mut File> {
        let date = TimeZone::UTC.to_datetime(now).date();
        if self.file.as_ref().is_none_or(|(day, _)| *day != date) {
            let path = self.folder.join(format!("paper-{date}.jsonl"));
            let file = OpenOptions::new().create(true).append(true).open(path)?;
            self.file = Some((date, file));
        }
        Ok(&mut self.file.as_mut().expect("opened above").1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_line_for_every_code() {
        let folder = tempfile::tempdir().unwrap();
        let clock = || "2026-03-21T19:30:00.25Z".parse().unwrap();
        let path = folder.path().join("deep/er");
        let mut record = PaperRecord::with_clock(&path, &Machine::default(), clock).unwrap();
        let source = Source {
            at_s: 1.0,
            probability: 0.5,
            doubtful: true,
        };
        let one = Code::new(23).unwrap();
        record.sent(Code::FIGURES, None).unwrap();
        record.sent(one, Some(source)).unwrap();
        record.sent(Code::CARRIAGE_RETURN, None).unwrap();
        let text = std::fs::read_to_string(path.join("paper-2026-03-21.jsonl")).unwrap();
        let time = "{\"time\":\"2026-03-21T19:30:00.250Z\",\"code\":";
        let expected = format!(
            "{time}27,\"shift\":\"letters\",\"glyph\":null,\"probability\":null,\"doubtful\":false}}\n\
             {time}23,\"shift\":\"figures\",\"glyph\":\"1\",\"probability\":0.5,\"doubtful\":true}}\n\
             {time}8,\"shift\":\"figures\",\"glyph\":\"\\r\",\"probability\":null,\"doubtful\":false}}\n"
        );
        assert_eq!(text, expected);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_told() {
        let file = tempfile::NamedTempFile::new().unwrap();
        assert!(PaperRecord::new(file.path().join("x"), &Machine::default()).is_err());
    }
}
