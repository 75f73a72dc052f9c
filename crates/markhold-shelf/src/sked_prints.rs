//! Bulletins of skeds that go to paper, kept in the archive so that a restart forgets none.

use super::{Shelf, ShelfError};
use jiff::Timestamp;
use rusqlite::{OptionalExtension, Row, params};

/// How a bulletin stands with its paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PrintState {
    /// It waits for its paper, or is being printed.
    Waiting,
    /// It was printed.
    Printed,
    /// It was given up.
    GivenUp,
}

impl PrintState {
    /// The word in the archive.
    pub fn word(self) -> &'static str {
        match self {
            PrintState::Waiting => "waiting",
            PrintState::Printed => "printed",
            PrintState::GivenUp => "given-up",
        }
    }

    fn from_word(word: &str) -> Self {
        match word {
            "printed" => PrintState::Printed,
            "given-up" => PrintState::GivenUp,
            _ => PrintState::Waiting,
        }
    }
}

/// A bulletin that goes to paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SkedPrint {
    /// The sked's number.
    pub sked: i64,
    /// When its run was due.
    pub begins: Timestamp,
    /// The machine it goes to.
    pub machine: String,
    /// How it stands.
    pub state: PrintState,
    /// What it waits for, or why it was given up; may be empty.
    pub why: String,
}

impl SkedPrint {
    /// In words, for a person.
    pub fn words(&self) -> String {
        let machine = &self.machine;
        match (self.state, self.why.is_empty()) {
            (PrintState::Printed, _) => format!("printed on {machine}"),
            (PrintState::Waiting, true) => format!("waits for {machine}"),
            (PrintState::Waiting, false) => format!("waits for {machine}: {}", self.why),
            (PrintState::GivenUp, _) => format!("not printed on {machine}: {}", self.why),
        }
    }
}

impl Shelf {
    /// Keeps how a bulletin stands with its paper, in place of what was known before.
    pub fn keep_print(&mut self, print: &SkedPrint) -> Result<(), ShelfError> {
        self.archive().execute(
            "INSERT OR REPLACE INTO sked_prints (sked, begins_ms, machine, state, why)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            params![
                print.sked,
                print.begins.as_millisecond(),
                print.machine,
                print.state.word(),
                print.why,
            ],
        )?;
        Ok(())
    }

    /// How the bulletin of a run stands with its paper; `None` where none is wanted.
    pub fn print_of(&self, sked: i64, begins: Timestamp) -> Result<Option<SkedPrint>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT sked, begins_ms, machine, state, why FROM sked_prints
             WHERE sked = ?1 AND begins_ms = ?2",
        )?;
        let key = (sked, begins.as_millisecond());
        Ok(query.query_row(key, print).optional()?)
    }

    /// The bulletins that wait for their paper, in order of time.
    pub fn waiting_prints(&self) -> Result<Vec<SkedPrint>, ShelfError> {
        let mut query = self.archive().prepare_cached(
            "SELECT sked, begins_ms, machine, state, why FROM sked_prints
             WHERE state = 'waiting' ORDER BY begins_ms, sked",
        )?;
        let waiting = query.query_map([], print)?;
        Ok(waiting.collect::<Result<_, _>>()?)
    }
}

fn print(row: &Row) -> rusqlite::Result<SkedPrint> {
    Ok(SkedPrint {
        sked: row.get(0)?,
        begins: Timestamp::from_millisecond(row.get(1)?).unwrap_or_default(),
        machine: row.get(2)?,
        state: PrintState::from_word(&row.get::<_, String>(3)?),
        why: row.get(4)?,
    })
}
