//! A character that cannot be sent: what, where, and what to do.

use crate::FiguresRow;
use std::error::Error;
use std::fmt;

/// What to do about a character that cannot be sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Suggestion {
    /// Write this instead; may be empty, may hold spaces around a word.
    Write(&'static str),
    /// Leave it out: nothing in the alphabet is like it.
    LeaveOut,
}

/// A character of the text is not in the alphabet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EncodeError {
    /// The character found.
    pub found: char,
    /// The line it stands in, counted from 1.
    pub line: usize,
    /// Its place in the line, in characters counted from 1.
    pub column: usize,
    /// The figures row that was asked for.
    pub row: FiguresRow,
    /// What to do.
    pub suggestion: Suggestion,
    /// The other figures row, if it holds the character.
    pub other_row: Option<FiguresRow>,
}

impl fmt::Display for EncodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            found,
            line,
            column,
            row,
            ..
        } = self;
        let number = u32::from(*found);
        write!(f, "line {line}, column {column}: ")?;
        if found.is_control() {
            write!(f, "the control character U+{number:04X}")?;
        } else {
            write!(f, "the character {found} (U+{number:04X})")?;
        }
        write!(f, " is not in the five-unit alphabet with {row} figures; ")?;
        match self.suggestion {
            Suggestion::Write(" ") => f.write_str("put a space in its place")?,
            Suggestion::Write("") | Suggestion::LeaveOut => f.write_str("leave it out")?,
            Suggestion::Write(instead) => write!(f, "write {} instead", instead.trim())?,
        }
        match self.other_row {
            Some(other) => write!(
                f,
                ", or choose {other} figures if the receiving machine has them"
            ),
            None => Ok(()),
        }
    }
}

impl Error for EncodeError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{EncodeOptions, encode};

    #[test]
    fn errors_say_what_where_and_what_to_do() {
        let fail = |text: &str, row| {
            encode(text, row, EncodeOptions::default())
                .expect_err("not in it")
                .to_string()
        };
        assert_eq!(
            fail("CQ\nDE Q1ABC\u{201d}", FiguresRow::Us),
            "line 2, column 9: the character \u{201d} (U+201D) is not in the five-unit alphabet \
             with US figures; write \" instead"
        );
        assert_eq!(
            fail("A\tB", FiguresRow::Ita2),
            "line 1, column 2: the control character U+0009 is not in the five-unit alphabet \
             with ITA2 figures; put a space in its place"
        );
        assert_eq!(
            fail("#1", FiguresRow::Ita2),
            "line 1, column 1: the character # (U+0023) is not in the five-unit alphabet with \
             ITA2 figures; write NR instead, or choose US figures if the receiving machine has \
             them"
        );
        assert!(fail("日", FiguresRow::Ita2).ends_with("leave it out"));
    }
}
