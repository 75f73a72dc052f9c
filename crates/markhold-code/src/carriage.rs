//! From carriage return and line feed to new lines.
//!
//! On paper a carriage return without a line feed prints the next text over the line. A
//! line of text cannot show that, and no text may be lost, so it becomes a new line, but
//! only when text follows: senders return the carriage two or three times before the line
//! feed to give it time (common practice). A line feed always gives a new line.

use crate::Symbol;

/// What a symbol does to running text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Nothing is seen.
    Nothing,
    /// The line ends.
    NewLine,
    /// A character is printed.
    Print(char),
    /// The line ends, then a character is printed.
    NewLinePrint(char),
}

/// Where the carriage stands.
#[derive(Clone, Copy, Debug, Default)]
pub struct Carriage {
    /// The line holds text.
    away: bool,
    /// The carriage returned and no line feed came yet.
    returned: bool,
}

impl Carriage {
    /// Takes one symbol and says what it does to the text.
    pub fn step(&mut self, symbol: Symbol) -> Step {
        match symbol {
            Symbol::CarriageReturn => {
                self.returned = true;
                Step::Nothing
            }
            Symbol::LineFeed => {
                *self = Carriage::default();
                Step::NewLine
            }
            other => other.printed().map_or(Step::Nothing, |c| self.print(c)),
        }
    }

    fn print(&mut self, c: char) -> Step {
        let over = self.away && self.returned;
        *self = Carriage {
            away: true,
            returned: false,
        };
        if over {
            Step::NewLinePrint(c)
        } else {
            Step::Print(c)
        }
    }

    /// Whether the current line holds text.
    pub fn is_away(self) -> bool {
        self.away
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Symbol::{CarriageReturn, LineFeed};

    fn text(symbols: &[Symbol]) -> String {
        let mut carriage = Carriage::default();
        let mut text = String::new();
        for symbol in symbols {
            match carriage.step(*symbol) {
                Step::Nothing => {}
                Step::NewLine => text.push('\n'),
                Step::Print(c) => text.push(c),
                Step::NewLinePrint(c) => text.extend(['\n', c]),
            }
        }
        text
    }

    #[test]
    fn ways_to_end_a_line() {
        let (a, b) = (Symbol::Print('A'), Symbol::Print('B'));
        let ends: [&[Symbol]; 6] = [
            &[CarriageReturn, LineFeed],
            &[CarriageReturn, CarriageReturn, LineFeed],
            &[LineFeed, CarriageReturn],
            &[LineFeed],
            &[CarriageReturn],
            &[CarriageReturn, CarriageReturn, Symbol::Letters],
        ];
        for end in ends {
            assert_eq!(text(&[&[a], end, &[b]].concat()), "A\nB", "{end:?}");
        }
        assert_eq!(text(&[a, CarriageReturn, LineFeed, LineFeed, b]), "A\n\nB");
        assert_eq!(text(&[CarriageReturn, a]), "A");
        assert_eq!(text(&[a, CarriageReturn]), "A");
    }

    #[test]
    fn what_does_not_print_leaves_nothing() {
        let silent = [
            Symbol::Bell,
            Symbol::WhoAreYou,
            Symbol::Blank,
            Symbol::Letters,
            Symbol::Figures,
        ];
        assert_eq!(text(&silent), "");
        assert_eq!(text(&[Symbol::Space, Symbol::Print('1')]), " 1");
    }
}
