//! The five-unit alphabet, as sender and textbook receiver of this bench know it.
//!
//! ITU-T S.1 (ITA2), table 1, written in the order of the code's number, element 1 being
//! the lowest bit. The American figures row is common practice.

use std::fmt::Debug;

pub const LINE_FEED: u8 = 2;
pub const SPACE: u8 = 4;
pub const RETURN: u8 = 8;
pub const FIGURES: u8 = 27;
pub const LETTERS: u8 = 31;

/// What prints in letters; `_` is no glyph.
const LETTER_ROW: &[u8; 32] = b"_E_A SIU_DRJNFCKTZLWHYPQOBG_MXV_";

/// Which figures a machine has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Row {
    /// ITA2; F, G and H are left to each country and print nothing here.
    Ita2,
    /// Common in America.
    American,
}

impl Row {
    fn glyphs(self) -> &'static [u8; 32] {
        match self {
            Row::Ita2 => b"_3_- '87__4_,_:(5+)2_6019?__./=_",
            Row::American => b"_3_- _87_$4',!:(5\")2#6019?&_./;_",
        }
    }

    /// What a code prints, if it prints.
    pub fn glyph(self, figures: bool, code: u8) -> Option<char> {
        let row = if figures { self.glyphs() } else { LETTER_ROW };
        let glyph = row[usize::from(code & 31)];
        (glyph != b'_').then_some(char::from(glyph))
    }

    /// How a glyph is sent: in figures or letters, or either way, and by which code.
    fn find(self, glyph: char) -> Option<(Option<bool>, u8)> {
        let place = |row: &[u8; 32]| row.iter().position(|g| char::from(*g) == glyph);
        match glyph {
            '_' => None,
            ' ' => Some((None, SPACE)),
            '\r' => Some((None, RETURN)),
            '\n' => Some((None, LINE_FEED)),
            _ => place(LETTER_ROW)
                .map(|code| (Some(false), code as u8))
                .or_else(|| place(self.glyphs()).map(|code| (Some(true), code as u8))),
        }
    }
}

/// A shift machine: sends or prints by which row is in force.
#[derive(Clone, Copy, Debug)]
pub struct Machine {
    pub row: Row,
    /// Whether a space takes it back to letters.
    pub unshift: bool,
    figures: bool,
}

impl Machine {
    pub fn new(row: Row, unshift: bool) -> Self {
        let figures = false;
        Self {
            row,
            unshift,
            figures,
        }
    }

    /// Whether figures are in force.
    pub fn in_figures(&self) -> bool {
        self.figures
    }

    /// Takes a code; what it prints. Line feed and return both give a line end.
    pub fn print(&mut self, code: u8) -> Option<char> {
        match code {
            FIGURES => self.figures = true,
            LETTERS => self.figures = false,
            SPACE => self.figures &= !self.unshift,
            LINE_FEED | RETURN => return Some('\n'),
            _ => {}
        }
        self.row.glyph(self.figures, code)
    }

    /// The codes that make a machine in the same state print `glyph`; none if it cannot.
    pub fn send(&mut self, glyph: char) -> Vec<u8> {
        let Some((figures, code)) = self.row.find(glyph) else {
            return Vec::new();
        };
        let mut codes = match figures {
            Some(true) if !self.figures => vec![FIGURES],
            Some(false) if self.figures => vec![LETTERS],
            _ => Vec::new(),
        };
        codes.push(code);
        codes.iter().for_each(|c| {
            self.print(*c);
        });
        codes
    }
}
