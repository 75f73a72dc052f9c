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
//! * [`Piece`]: one transmission's paper; what is decided quietly takes the place of first readings.
//! * `Transmissions`: which signals are one. `Dials`: where the dial stood when one began.
//! * `Sent`: what was sent from here, in its place between the pieces.
//! * [`Sheet`]: all of them, and what changed since it was asked last.
//! * [`Sheets`]: the sheet of a desk, kept up by a thread of its own, told to all browsers.

mod dials;
mod gap;
mod piece;
mod plan;
mod row;
mod sent;
mod sheets;
#[cfg(test)]
mod tests;
mod transmissions;
mod typist;

use dials::Dials;
pub use gap::{Cause, Gap};
pub use piece::{Head, Piece, PieceRows};
pub use plan::{Layout, on_screen};
pub use row::{Mark, Row, Struck};
use sent::Sent;
pub use sheets::{AT_ONCE, Above, Changed, Sheets};
use transmissions::Transmissions;
pub use typist::Typist;

use markhold_event::{Character, Event, SentLine, Signal, SignalId};
use markhold_page::Machine;
use serde::{Deserialize, Serialize};

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

/// A row of a piece of the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Which piece.
    pub piece: u32,
    /// Which of its rows, counted from 0.
    pub row: usize,
}

/// One thing on the sheet, below what came before.
#[derive(Clone, Debug)]
enum Part {
    Received(Box<Piece>),
    Sent(Sent),
}

impl Part {
    fn received(&mut self) -> Option<&mut Piece> {
        match self {
            Part::Received(piece) => Some(piece),
            Part::Sent(_) => None,
        }
    }

    fn number(&self) -> u32 {
        match self {
            Part::Received(piece) => piece.number(),
            Part::Sent(sent) => sent.number(),
        }
    }

    fn len(&self) -> usize {
        match self {
            Part::Received(piece) => piece.len(),
            Part::Sent(sent) => sent.len(),
        }
    }

    /// Which row the first of those is that are kept.
    fn first(&self) -> usize {
        match self {
            Part::Received(piece) => piece.first(),
            Part::Sent(_) => 0,
        }
    }

    fn last_rows(&self, before: usize, room: &mut usize) -> PieceRows {
        match self {
            Part::Received(piece) => piece.last_rows(before, room),
            Part::Sent(sent) => sent.last_rows(before, room),
        }
    }
}

/// All paper of an evening.
#[derive(Clone, Debug)]
pub struct Sheet {
    // Configured.
    machine: Machine,
    // State.
    /// In the order in which they began.
    parts: Vec<Part>,
    /// How many there have been.
    count: u32,
    /// Where sound is missing, in the order of time, and how many of them stand on paper.
    gaps: Vec<Gap>,
    placed: usize,
    transmissions: Transmissions,
    dials: Dials,
    /// The one that was typed on last.
    current: Option<SignalId>,
}

impl Sheet {
    /// Where the dial is known to have stood.
    fn set_dials(&mut self, dials: &Dials) {
        self.dials.clone_from(dials);
    }

    /// Fresh paper, laid out for this machine ([`on_screen`] makes one of any).
    pub fn new(machine: Machine) -> Self {
        Self {
            machine,
            parts: Vec::new(),
            count: 0,
            gaps: Vec::new(),
            placed: 0,
            transmissions: Transmissions::default(),
            dials: Dials::default(),
            current: None,
        }
    }

    /// A signal of which characters may be typed next: it may go on with what was heard before.
    pub fn know(&mut self, signal: &Signal) {
        self.transmissions.know(signal);
    }

    /// Types what was told. Transmissions begin their paper with their first character, and go on
    /// below what was sent from here meanwhile.
    pub fn take(&mut self, event: &Event) {
        match event {
            Event::Early(character) => self.piece(character).0.early(character),
            Event::Character(character) => {
                let (piece, gaps) = self.piece(character);
                let placed = piece.decided(character, gaps);
                self.placed = self.placed.max(placed);
                for piece in self.pieces(character.signal) {
                    piece.forget_early(character.id);
                }
            }
            Event::Ended(signal) => {
                self.know(signal);
                self.pieces(signal.id).for_each(Piece::end);
            }
            Event::Found(signal) => self.know(signal),
            Event::Unlikely(_) => {}
        }
    }

    /// A line was sent from here, or has grown.
    pub fn sent(&mut self, line: &SentLine) {
        let grown = self.parts.iter_mut().rev().any(|part| match part {
            Part::Received(_) => false,
            Part::Sent(sent) => sent.grow(line),
        });
        match self.parts.last_mut() {
            _ if grown => {}
            Some(Part::Sent(sent)) => sent.add(line.clone()),
            _ => {
                let number = self.number();
                self.parts.push(Part::Sent(Sent::new(number, line.clone())));
            }
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
        let pieces = self.parts.iter_mut().filter_map(Part::received);
        pieces.for_each(|piece| piece.set_machine(machine));
    }

    /// What changed since this was asked last.
    pub fn changes(&mut self) -> Vec<PieceRows> {
        let gaps = &self.gaps;
        let changes = self.parts.iter_mut().enumerate();
        let changes = changes.filter_map(|(place, part)| {
            let rows = match part {
                Part::Received(piece) => piece.changes(gaps),
                Part::Sent(sent) => sent.changes(),
            };
            Some((place, rows?))
        });
        let changes: Vec<_> = changes.collect();
        let changes = changes.into_iter().map(|(place, rows)| PieceRows {
            before: self.parts.get(place + 1).map(Part::number),
            ..rows
        });
        let changes = changes.collect();
        self.trim();
        changes
    }

    /// Everything.
    pub fn whole(&self) -> Vec<PieceRows> {
        self.latest(None, usize::MAX).0
    }

    /// The latest of what stands above a place, or of all, as much of it as there is room for, bytes; and the place
    /// above which there is more.
    pub fn latest(&self, above: Option<Place>, mut room: usize) -> (Vec<PieceRows>, Option<Place>) {
        let (mut end, mut before) = (self.parts.len(), usize::MAX);
        if let Some(place) = above {
            let at = self.parts.iter().position(|p| p.number() == place.piece);
            // What went to make room has nothing above it.
            let Some(at) = at else {
                return (Vec::new(), None);
            };
            (end, before) = (at + 1, place.row);
        }
        let (mut told, mut more) = (Vec::new(), None);
        for (at, part) in self.parts[..end].iter().enumerate().rev() {
            if room == 0 {
                break;
            }
            let rows = part.last_rows(std::mem::replace(&mut before, usize::MAX), &mut room);
            let place = Place {
                piece: rows.piece,
                row: rows.from,
            };
            more = (at > 0 || rows.from > part.first()).then_some(place);
            told.push(PieceRows {
                before: self.parts.get(at + 1).map(Part::number),
                ..rows
            });
        }
        told.reverse();
        (told, more)
    }

    /// Where the carriage of the piece is that was typed on last.
    pub fn under(&self) -> Under {
        let current = self.parts.iter().rev().find_map(|part| match part {
            Part::Received(piece) if Some(piece.signal()) == self.current => Some(piece),
            _ => None,
        });
        current.map(|piece| piece.under()).unwrap_or_default()
    }

    fn number(&mut self) -> u32 {
        self.count += 1;
        self.count
    }

    /// The pieces that were typed on for a signal last.
    fn pieces(&mut self, signal: SignalId) -> impl Iterator<Item = &mut Piece> {
        let pieces = self.parts.iter_mut().filter_map(Part::received);
        pieces.filter(move |piece| piece.latest() == signal)
    }

    /// The piece of a character, and where sound is missing. What began after something was
    /// sent stands below it.
    fn piece(&mut self, character: &Character) -> (&mut Piece, &[Gap]) {
        let signal = self.transmissions.first(character.signal);
        self.current = Some(signal);
        let comes_after =
            |part: &Part| matches!(part, Part::Sent(sent) if sent.begin_s() <= character.start_s);
        let since = self
            .parts
            .iter()
            .rposition(comes_after)
            .map_or(0, |at| at + 1);
        let is_its =
            |part: &Part| matches!(part, Part::Received(piece) if piece.signal() == signal);
        let place = self.parts[since..].iter().position(is_its);
        let place = place.map(|place| since + place).unwrap_or_else(|| {
            let (number, lane) = (self.number(), self.free_lane(signal));
            let head = Head {
                number,
                signal,
                lane,
                place: self.dials.at(character.start_s),
            };
            let piece = Piece::new(head, &self.machine, self.placed);
            // What was sent later stands below.
            let later = |part: &Part| matches!(part, Part::Sent(_));
            let place = self.parts[since..].iter().position(later);
            let place = place.map_or(self.parts.len(), |place| since + place);
            self.parts.insert(place, Part::Received(Box::new(piece)));
            place
        });
        let piece = self.parts[place].received();
        let piece = piece.expect("found above as one received");
        piece.go_on(character.signal);
        (piece, &self.gaps)
    }

    /// The lane for another piece of a transmission: its own, or the first in which nothing is typed.
    fn free_lane(&mut self, signal: SignalId) -> usize {
        let pieces = self.parts.iter_mut().filter_map(Part::received);
        let mut taken = Vec::new();
        for piece in pieces.filter(|piece| piece.is_open()) {
            if piece.signal() == signal {
                return piece.lane();
            }
            taken.push(piece.lane());
        }
        (0..).find(|lane| !taken.contains(lane)).unwrap_or(0)
    }

    fn trim(&mut self) {
        // One on which nothing was typed takes its room too.
        let room = |part: &Part| part.len().max(1);
        let mut rows: usize = self.parts.iter().map(room).sum();
        while rows > MOST_ROWS && self.parts.len() > 1 {
            rows -= room(&self.parts.remove(0));
        }
        if let [Part::Received(only)] = &mut self.parts[..] {
            only.keep(MOST_ROWS);
        }
    }
}
