//! What was sent from here, between what was received.

use super::piece::first_of_latest;
use super::{PieceRows, Row};
use markhold_event::SentLine;

/// What was sent between two things received: rows of its own.
#[derive(Clone, Debug)]
pub struct Sent {
    // Configured.
    number: u32,
    // State.
    lines: Vec<SentLine>,
    /// The first row that was not shown yet, or not as it is.
    changed: usize,
}

impl Sent {
    /// With its first line.
    pub fn new(number: u32, line: SentLine) -> Self {
        Sent {
            number,
            lines: vec![line],
            changed: 0,
        }
    }

    /// Which piece of the sheet it is.
    pub fn number(&self) -> u32 {
        self.number
    }

    /// When it began, live time, s.
    pub fn begin_s(&self) -> f64 {
        self.lines.first().map_or(0.0, |line| line.at_s)
    }

    /// Takes a line that has grown; whether it is one of these.
    pub fn grow(&mut self, line: &SentLine) -> bool {
        let place = self
            .lines
            .iter()
            .rposition(|known| known.number == line.number);
        if let Some(place) = place {
            self.lines[place].clone_from(line);
            self.changed = self.changed.min(place);
        }
        place.is_some()
    }

    /// Adds a line.
    pub fn add(&mut self, line: SentLine) {
        self.lines.push(line);
    }

    /// Rows so far.
    pub fn len(&self) -> usize {
        self.lines.len()
    }

    /// What changed since this was asked last.
    pub fn changes(&mut self) -> Option<PieceRows> {
        let from = std::mem::replace(&mut self.changed, self.lines.len());
        (from < self.lines.len()).then(|| self.rows(from))
    }

    /// The latest rows before this one that there is room for, bytes, of which it takes its part.
    pub fn last_rows(&self, before: usize, room: &mut usize) -> PieceRows {
        let before = before.min(self.lines.len());
        let weight = |at: usize| Row::of_sent(&self.lines[at]).weight();
        let from = first_of_latest(0, before, room, weight);
        let mut rows = self.rows(from);
        rows.rows.truncate(before - from);
        rows
    }

    fn rows(&self, from: usize) -> PieceRows {
        let open = self.lines.last().is_some_and(|line| !line.closed);
        PieceRows {
            piece: self.number,
            before: None,
            signal: None,
            lane: 0,
            place: None,
            from,
            settled: self.lines.len() - usize::from(open),
            rows: self.lines[from..].iter().map(Row::of_sent).collect(),
        }
    }
}
