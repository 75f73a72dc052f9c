//! A joint copy in lines.

use super::printed::{Printed, printed, shown};
use markhold_code::{Carriage, FiguresRow, Step, Symbol};
use markhold_join::{Joint, JointCharacter};

/// What stands on a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// A character.
    Character {
        /// Its place among those of the joint copy.
        place: usize,
        /// What is printed.
        glyph: char,
        /// Whether it is doubtful.
        doubtful: bool,
    },
    /// A variant, by its place among those of the joint copy.
    Variant(usize),
}

/// A line of a joint copy.
#[derive(Clone, Debug, PartialEq)]
pub struct JointLine {
    /// What stands on it, from the left.
    pub pieces: Vec<Piece>,
    /// For each copy how many characters of the line it bears.
    pub borne: Vec<usize>,
    /// How many characters it has.
    pub count: usize,
}

impl JointLine {
    /// Whether a copy bears at least half of it.
    pub fn is_borne_by(&self, copy: usize) -> bool {
        2 * self.borne[copy] >= self.count
    }
}

/// The lines on which anything is printed.
pub(super) fn lines(joint: &Joint, copies: usize, row: FiguresRow) -> Vec<JointLine> {
    let mut typing = Typing::new(copies);
    let mut last_variant = None;
    for (place, character) in shown(joint) {
        match character.variant {
            Some(number) => {
                if last_variant.replace(number) != Some(number) {
                    typing.variant(number);
                }
                typing.bear(character);
            }
            None => typing.take(place, character, printed(character, row)),
        }
    }
    typing.finish()
}

/// Characters on their way into lines.
struct Typing {
    carriage: Carriage,
    copies: usize,
    line: JointLine,
    lines: Vec<JointLine>,
}

impl Typing {
    fn new(copies: usize) -> Self {
        Self {
            carriage: Carriage::default(),
            copies,
            line: empty(copies),
            lines: Vec::new(),
        }
    }

    fn take(&mut self, place: usize, character: &JointCharacter, printed: Printed) {
        let step = self.carriage.step(printed.symbol);
        if matches!(step, Step::NewLine | Step::NewLinePrint(_)) {
            self.new_line();
        }
        if let Step::Print(glyph) | Step::NewLinePrint(glyph) = step {
            self.line.pieces.push(Piece::Character {
                place,
                glyph,
                doubtful: printed.is_doubtful(),
            });
            self.bear(character);
        }
    }

    fn bear(&mut self, character: &JointCharacter) {
        character.bearers().for_each(|k| self.line.borne[k] += 1);
        self.line.count += 1;
    }

    fn variant(&mut self, number: usize) {
        // A variant prints, so the carriage is away.
        if let Step::NewLinePrint(_) = self.carriage.step(Symbol::Print('-')) {
            self.new_line();
        }
        self.line.pieces.push(Piece::Variant(number));
    }

    fn new_line(&mut self) {
        let line = std::mem::replace(&mut self.line, empty(self.copies));
        self.lines.push(line);
    }

    fn finish(mut self) -> Vec<JointLine> {
        self.new_line();
        let blank = |p: &Piece| matches!(p, Piece::Character { glyph, .. } if *glyph == ' ');
        self.lines.retain(|l| !l.pieces.iter().all(blank));
        self.lines
    }
}

fn empty(copies: usize) -> JointLine {
    JointLine {
        pieces: Vec::new(),
        borne: vec![0; copies],
        count: 0,
    }
}
