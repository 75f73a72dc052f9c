//! The receiving printer's memory of the last shift character.

use crate::{Code, FiguresRow, Shift, Symbol, symbol};

/// Turns received codes into symbols, remembering the shift.
///
/// Starts in letters, as a printer does when its motor starts (common practice).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShiftMachine {
    // Configured.
    row: FiguresRow,
    unshift_on_space: bool,
    // State.
    shift: Shift,
}

impl ShiftMachine {
    /// A machine in letters shift.
    ///
    /// With `unshift_on_space` a space returns it to letters, as many printers do so that
    /// a lost letters shift spoils one group only (common practice).
    pub const fn new(row: FiguresRow, unshift_on_space: bool) -> Self {
        Self {
            row,
            unshift_on_space,
            shift: Shift::Letters,
        }
    }

    /// Takes one code and says what it means; shift characters take effect after it.
    pub const fn receive(&mut self, code: Code) -> Symbol {
        let symbol = symbol(code, self.shift, self.row);
        match symbol {
            Symbol::Letters => self.shift = Shift::Letters,
            Symbol::Figures => self.shift = Shift::Figures,
            Symbol::Space if self.unshift_on_space => self.shift = Shift::Letters,
            _ => {}
        }
        symbol
    }

    /// The shift in which the next code will be read.
    pub const fn shift(&self) -> Shift {
        self.shift
    }

    /// Puts the machine into a shift, as a person does who sees that one was lost.
    pub const fn set_shift(&mut self, shift: Shift) {
        self.shift = shift;
    }

    /// The same as new: back to letters.
    pub const fn reset(&mut self) {
        self.shift = Shift::Letters;
    }
}

/// All codes as text, from letters shift on; what leaves nothing in text is left out.
///
/// Line ends stay as received, so usually `"\r\n"` or `"\r\r\n"`.
pub fn decode(codes: &[Code], row: FiguresRow, unshift_on_space: bool) -> String {
    let mut machine = ShiftMachine::new(row, unshift_on_space);
    codes
        .iter()
        .filter_map(|&code| machine.receive(code).text())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(values: &[u8]) -> Vec<Code> {
        values
            .iter()
            .map(|&v| Code::new(v).expect("five bits"))
            .collect()
    }

    /// Worked examples W5 and W7, from the tests of a public library.
    #[test]
    fn worked_examples() {
        let hello = codes(&[20, 1, 18, 18, 24, 4, 27, 23, 19, 1]);
        assert_eq!(decode(&hello, FiguresRow::Ita2, false), "HELLO 123");
        assert_eq!(
            decode(&codes(&[3, 27, 23, 31, 25]), FiguresRow::Ita2, false),
            "A1B"
        );
    }

    #[test]
    fn a_space_unshifts_only_when_told_to() {
        let line = codes(&[27, 23, 4, 23]);
        assert_eq!(decode(&line, FiguresRow::Ita2, false), "1 1");
        assert_eq!(decode(&line, FiguresRow::Ita2, true), "1 Q");
    }

    #[test]
    fn a_space_in_letters_changes_nothing() {
        for unshift in [false, true] {
            let mut machine = ShiftMachine::new(FiguresRow::Us, unshift);
            machine.receive(Code::SPACE);
            assert_eq!(machine.shift(), Shift::Letters);
        }
    }

    #[test]
    fn reset_equals_new() {
        let mut machine = ShiftMachine::new(FiguresRow::Us, true);
        machine.receive(Code::FIGURES);
        assert_eq!(machine.shift(), Shift::Figures);
        machine.reset();
        assert_eq!(machine, ShiftMachine::new(FiguresRow::Us, true));
    }
}
