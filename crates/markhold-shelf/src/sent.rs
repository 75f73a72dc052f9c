//! What was sent from here, kept beside the copy of the same evening.

use super::{KeptLine, Shelf, ShelfError};
use markhold_event::SentLine;
use rusqlite::Row;

/// A line of an evening, either way.
#[derive(Clone, Debug, PartialEq)]
pub enum Traffic {
    /// Copied.
    Received(KeptLine),
    /// Sent from here.
    Sent(SentLine),
}

impl Traffic {
    /// Where it begins, s from the first sample of the evening.
    pub fn begin_s(&self) -> f64 {
        match self {
            Traffic::Received(line) => line.begin_s,
            Traffic::Sent(line) => line.at_s,
        }
    }

    /// What it prints.
    pub fn text(&self) -> &str {
        match self {
            Traffic::Received(line) => &line.text,
            Traffic::Sent(line) => &line.text,
        }
    }

    /// `received` or `sent`.
    pub fn direction(&self) -> &'static str {
        match self {
            Traffic::Received(_) => "received",
            Traffic::Sent(_) => "sent",
        }
    }
}

/// A line from the columns `number, at_s, text`, the first of them in place `at`.
pub(super) fn of_row(row: &Row, at: usize) -> rusqlite::Result<SentLine> {
    Ok(SentLine {
        number: row.get::<_, i64>(at)? as u64,
        at_s: row.get(at + 1)?,
        text: row.get(at + 2)?,
        closed: true,
    })
}

impl Shelf {
    /// What was sent from here in an evening, in order of time.
    pub fn sent(&self, evening: i64) -> Result<Vec<SentLine>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT number, at_s, text FROM sent WHERE evening = ?1 ORDER BY at_s, number",
        )?;
        let lines = query.query_map([evening], |row| of_row(row, 0))?;
        Ok(lines.collect::<Result<_, _>>()?)
    }

    /// Gives every line of a reading, and between them what was sent, to `take`, in order of
    /// time.
    pub fn traffic(
        &self,
        evening: i64,
        reading: i64,
        take: &mut dyn FnMut(Traffic),
    ) -> Result<(), ShelfError> {
        let sent = self.sent(evening)?;
        let mut sent = sent.into_iter().peekable();
        self.lines(reading, &mut |line| {
            while let Some(before) = sent.next_if(|sent| sent.at_s <= line.begin_s) {
                take(Traffic::Sent(before));
            }
            take(Traffic::Received(line));
        })?;
        sent.map(Traffic::Sent).for_each(take);
        Ok(())
    }
}
