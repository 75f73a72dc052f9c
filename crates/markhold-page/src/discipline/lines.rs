//! Carriage returns and line feeds as they came become new lines.
//!
//! A line feed is a new line, however many carriage returns stand around it. A return
//! without a line feed is one too once text follows, as the line feed may have been lost;
//! unless it is doubtful itself, or overprinting is wished.

use crate::machine::Machine;
use markhold_code::Symbol;

/// What to do on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The line ends.
    NewLine,
    /// Back to the left margin of the same line.
    Return,
    /// A space.
    Space,
    /// A character.
    Print(char),
    /// Something that does not move the carriage.
    Still(Symbol),
}

/// A carriage return that no line feed has followed yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Returned {
    Sure,
    Doubtful,
}

/// Makes lines.
#[derive(Clone, Debug)]
pub struct Lines {
    // Configured.
    overprint: bool,
    most_empty: u16,
    // State.
    returned: Option<Returned>,
    /// Empty lines in a row.
    empty: u16,
    left: u64,
}

impl Lines {
    pub fn new(machine: &Machine) -> Self {
        Lines {
            overprint: machine.overprint,
            most_empty: machine.empty_lines,
            returned: None,
            empty: 0,
            left: 0,
        }
    }

    /// What a symbol does; `clear` says that the line holds nothing yet.
    pub fn step(&mut self, symbol: Symbol, doubtful: bool, clear: bool) -> Vec<Step> {
        match symbol {
            Symbol::CarriageReturn => {
                let sure = !doubtful || self.returned == Some(Returned::Sure);
                self.returned = Some(if sure {
                    Returned::Sure
                } else {
                    Returned::Doubtful
                });
                Vec::new()
            }
            Symbol::LineFeed => self.line_feed(clear),
            Symbol::Space => self.moving(Step::Space, clear),
            Symbol::Print(c) => {
                self.empty = 0;
                self.moving(Step::Print(c), clear)
            }
            Symbol::Bell | Symbol::WhoAreYou => vec![Step::Still(symbol)],
            // Shifts are sent as the machine needs them, and blanks print nothing.
            Symbol::Letters | Symbol::Figures | Symbol::Blank => Vec::new(),
        }
    }

    /// Empty lines that were not fed.
    pub fn left(&self) -> u64 {
        self.left
    }

    fn line_feed(&mut self, clear: bool) -> Vec<Step> {
        self.returned = None;
        if clear && self.empty >= self.most_empty {
            self.left += 1;
            return vec![Step::Return];
        }
        self.empty += u16::from(clear);
        vec![Step::NewLine]
    }

    /// A step of the carriage, after what a return before it asks for.
    fn moving(&mut self, step: Step, clear: bool) -> Vec<Step> {
        let before = match self.returned.take() {
            Some(Returned::Sure) if clear => None,
            Some(Returned::Sure) if self.overprint => Some(Step::Return),
            Some(Returned::Sure) => Some(Step::NewLine),
            Some(Returned::Doubtful) | None => None,
        };
        before.into_iter().chain([step]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Step::{NewLine, Print, Return};
    use Symbol::{CarriageReturn as Cr, LineFeed as Lf};

    fn steps(machine: &Machine, symbols: &[Symbol]) -> Vec<Step> {
        let mut lines = Lines::new(machine);
        let mut clear = true;
        let mut all = Vec::new();
        for &symbol in symbols {
            for step in lines.step(symbol, false, clear) {
                clear = step == NewLine;
                all.push(step);
            }
        }
        all
    }

    #[test]
    fn ways_to_end_a_line() {
        let machine = Machine::default();
        let (a, b) = (Symbol::Print('A'), Symbol::Print('B'));
        let ends: [&[Symbol]; 5] = [&[Cr, Lf], &[Cr, Cr, Lf], &[Lf, Cr], &[Lf], &[Cr, Cr]];
        for end in ends {
            let expected = [Print('A'), NewLine, Print('B')];
            assert_eq!(
                steps(&machine, &[&[a], end, &[b]].concat()),
                expected,
                "{end:?}"
            );
        }
        let overprint = Machine {
            overprint: true,
            ..machine
        };
        assert_eq!(
            steps(&overprint, &[a, Cr, b]),
            [Print('A'), Return, Print('B')]
        );
        assert_eq!(
            steps(&overprint, &[a, Cr, Lf, b]),
            [Print('A'), NewLine, Print('B')]
        );
    }

    #[test]
    fn paper_does_not_run_away() {
        let machine = Machine {
            empty_lines: 2,
            ..Machine::default()
        };
        let mut lines = Lines::new(&machine);
        let steps: Vec<Step> = (0..9).flat_map(|_| lines.step(Lf, false, true)).collect();
        assert_eq!(steps, [&[NewLine; 2][..], &[Return; 7]].concat());
        assert_eq!(lines.left(), 7);
        lines.step(Symbol::Print('A'), false, true);
        assert_eq!(lines.step(Lf, false, false), [NewLine]);
        assert_eq!(lines.step(Lf, false, true), [NewLine]);
    }
}
