//! The sheet: the copy as this station's machine would lay it out, by the page model of
//! `markhold-page`.
//!
//! ```text
//!   decided characters --> Typist (discipline, printer) --> rows that stay
//!                             | a copy of it
//!   first readings ---------> Typist -----------------> the last rows, until decided
//! ```
//!
//! * [`Row`]: one line of paper, every strike kept.
//! * [`Typist`]: characters in, rows out.
//! * [`Gap`]: where sound is missing, with a row of its own.
//! * [`Piece`]: one signal's paper; what is decided quietly takes the place of first readings.
//! * [`Sheet`]: all of them, and what changed since it was asked last.
//! * [`Sheets`]: the sheet of a desk, kept up by a thread of its own, told to all browsers.

mod gap;
mod piece;
mod plan;
mod row;
#[cfg(test)]
mod sheet_tests;
mod sheets;
mod typist;

pub use gap::{Cause, Gap};
pub use piece::{Piece, PieceRows};
pub use plan::{Layout, on_screen};
pub use row::{Mark, Row, Struck};
pub use sheets::{Changed, Sheets};
pub use typist::Typist;

use markhold_event::{Character, Event, SignalId};
use markhold_page::Machine;
use serde::Serialize;

/// Rows kept in all; the oldest piece goes first. Older ones are on the shelf.
const MOST_ROWS: usize = 4000;

/// Where the carriage is, and whether the margin lamp is lit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Under {
    /// Columns from the left margin.
    pub column: f64,
    /// Whether the margin lamp is lit.
    pub lamp: bool,
}

/// All paper of an evening.
#[derive(Clone, Debug)]
pub struct Sheet {
    // Configured.
    machine: Machine,
    // State.
    /// In the order in which they began.
    pieces: Vec<Piece>,
    /// Where sound is missing, in the order of time, and how many of them stand on paper.
    gaps: Vec<Gap>,
    placed: usize,
    /// The one that was typed on last.
    current: Option<SignalId>,
}

impl Sheet {
    /// Fresh paper, laid out for this machine ([`on_screen`] makes one of any).
    pub fn new(machine: Machine) -> Self {
        Self {
            machine,
            pieces: Vec::new(),
            gaps: Vec::new(),
            placed: 0,
            current: None,
        }
    }

    /// Types what was told. Signals begin their paper with their first character.
    pub fn take(&mut self, event: &Event) {
        match event {
            Event::Early(character) => self.piece(character).0.early(character),
            Event::Character(character) => {
                let (piece, gaps) = self.piece(character);
                let placed = piece.decided(character, gaps);
                self.placed = self.placed.max(placed);
            }
            Event::Ended(signal) => {
                let mut pieces = self.pieces.iter_mut();
                if let Some(piece) = pieces.find(|piece| piece.signal() == signal.id) {
                    piece.end();
                }
            }
            Event::Found(_) | Event::Unlikely(_) => {}
        }
    }

    /// Sound is missing here. It stands where the copy goes on, or where another begins.
    pub fn gap(&mut self, gap: Gap) {
        // One that stands on paper stays as it is.
        let waits = self.placed < self.gaps.len();
        let last = self.gaps.last_mut().filter(|_| waits);
        if !last.is_some_and(|last| last.take(&gap)) {
            self.gaps.push(gap);
        }
    }

    /// Another figures row from here on.
    pub fn set_machine(&mut self, machine: &Machine) {
        self.machine = machine.clone();
        self.pieces
            .iter_mut()
            .for_each(|piece| piece.set_machine(machine));
    }

    /// What changed since this was asked last.
    pub fn changes(&mut self) -> Vec<PieceRows> {
        let gaps = &self.gaps;
        let all = self.pieces.iter_mut().filter_map(|p| p.changes(gaps));
        let changes = all.collect();
        self.trim();
        changes
    }

    /// Everything.
    pub fn whole(&self) -> Vec<PieceRows> {
        self.pieces.iter().map(Piece::whole).collect()
    }

    /// Where the carriage of the piece is that was typed on last.
    pub fn under(&self) -> Under {
        let pieces = &mut self.pieces.iter();
        let current = pieces.find(|piece| Some(piece.signal()) == self.current);
        current.map(Piece::under).unwrap_or_default()
    }

    /// The piece of a character, and where sound is missing.
    fn piece(&mut self, character: &Character) -> (&mut Piece, &[Gap]) {
        let signal = character.signal;
        self.current = Some(signal);
        let place = self
            .pieces
            .iter()
            .position(|piece| piece.signal() == signal);
        let place = place.unwrap_or_else(|| {
            self.pieces
                .push(Piece::new(signal, &self.machine, self.placed));
            self.pieces.len() - 1
        });
        (&mut self.pieces[place], &self.gaps)
    }

    fn trim(&mut self) {
        let mut rows: usize = self.pieces.iter().map(Piece::len).sum();
        while rows > MOST_ROWS && self.pieces.len() > 1 {
            rows -= self.pieces.remove(0).len();
        }
        if let [only] = &mut self.pieces[..] {
            only.keep(MOST_ROWS);
        }
    }
}
