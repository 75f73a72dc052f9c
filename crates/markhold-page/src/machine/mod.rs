//! What one page printer is, and how it likes to be served.

mod describe;
mod error;
mod kinds;
mod line_ending;
mod values;

pub use error::MachineError;
pub use kinds::{Kind, kind, kinds};
pub use line_ending::LineEnding;

use markhold_code::{FiguresRow, StartStop};
use serde::{Deserialize, Serialize};

/// What happens when the carriage has reached the right margin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AtMargin {
    /// Everything more is struck in the last column (common practice).
    PileUp,
    /// As soon as the last column is filled the carriage returns and the paper moves up,
    /// by themselves (common practice on later machines).
    NewLine,
}

/// What combination 32, all elements space, does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Blank {
    /// Nothing moves.
    Still,
    /// The carriage moves on, as for a space.
    Steps,
}

/// How the time until the carriage is home is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// Letters shifts.
    Letters,
    /// More carriage returns.
    Return,
    /// Blanks; only for machines on which a blank moves nothing.
    Blank,
    /// The line held in mark. Exact, but not every way to a machine can pause.
    Hold,
}

/// Which signs stand in the machine's figures row.
pub type Figures = FiguresRow;

/// One page printer. Made by [`kind`], or from a table of the settings file, where every
/// key is optional and has the name of the field here:
///
/// ```
/// let machine: markhold_page::Machine = toml::from_str(
///     "kind = \"us-72-45\"
///      columns = 74
///      line_end = \"CR LF LTRS\"",
/// ).unwrap();
/// assert_eq!(machine.columns, 74);
/// ```
///
/// The fields may also be set directly; [`Machine::check`] says whether they hold together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "describe::Description", into = "describe::Description")]
pub struct Machine {
    // The paper and the carriage.
    /// Characters in one line, 20 to 200. 69, 72, 74, 76 and 80 are usual (69 in
    /// international telegraph practice, from memory of ITU-T F.1; 80 on the IA5 machine
    /// of ITU-T S.30; the others common practice).
    pub columns: u16,
    /// From this column on the margin lamp is lit, counted from 1; 0 = no lamp. 66 to 68
    /// of 72 is common practice.
    pub margin_lamp: u16,
    /// What happens at the right margin.
    pub at_margin: AtMargin,
    /// Time the carriage takes to return over a full line, s, 0 to 5.
    pub return_s: f64,
    /// The figures row.
    pub figures: Figures,
    /// Characters of the row that this machine has no type for.
    pub lacks: String,
    /// Whether a space returns the machine to letters.
    pub unshift_on_space: bool,
    /// What a blank does.
    pub blank: Blank,

    // The line.
    /// Modulation rate, baud, 10 to 300.
    pub rate_baud: f64,
    /// Length of the stop element, units, 1 to 3.
    pub stop_units: f64,
    /// What is sent for the end of a line.
    pub line_end: LineEnding,
    /// How the rest of the return time is filled.
    pub fill: Fill,
    /// Send the figures shift again after each space, whether or not the machine unshifts.
    pub shift_after_space: bool,
    /// Send the shift again in each line.
    pub shift_after_line: bool,

    // The copy.
    /// Longest word that is never divided, characters, 0 to 200. Near the margin a word is
    /// held back until it is seen to fit, so in live copy this is also the longest wait.
    pub longest_word: u16,
    /// How long a word is held back when nothing more arrives, s, 0 to 60.
    pub word_hold_s: f64,
    /// Printed for a character that the machine lacks.
    pub replacement: char,
    /// Printed for a doubtful character; `None` prints it as it is.
    pub doubt_mark: Option<char>,
    /// A sure carriage return without a line feed prints over the line, as it was sent.
    /// Otherwise it becomes a new line, since a line feed may have been lost.
    pub overprint: bool,
    /// Most empty lines in a row, 0 to 100.
    pub empty_lines: u16,
    /// Most bells in any 60 s, 0 to 600. Doubtful bells never ring.
    pub bells_per_minute: u16,
    /// Whether "who are you" is passed on; a machine with an answer-back drum then sends.
    pub who_are_you: bool,
    /// Doubtful characters in a row after which printing stops, 0 to 1000; 0 = never.
    pub garble_stop: u16,
    /// Sure characters in a row with which printing goes on, or the motor starts, 1 to 50.
    pub garble_resume: u16,
    /// Printed where printing stopped.
    pub garble_note: String,

    // The motor.
    /// Whether the motor is switched.
    pub motor: bool,
    /// Mark held after the motor starts, until it runs at speed, s, 0 to 60.
    pub run_up_s: f64,
    /// Rest after which the motor is switched off, s, 1 to 86400.
    pub motor_off_after_s: f64,
}

impl Machine {
    /// The speed of the machine's line.
    pub fn speed(&self) -> StartStop {
        StartStop::new(self.rate_baud, self.stop_units)
    }

    /// Columns that a line may fill when a line end follows.
    ///
    /// One fewer than the machine has where it makes a new line by itself: filling the last
    /// column there would leave an empty line.
    pub fn usable_columns(&self) -> u16 {
        match self.at_margin {
            AtMargin::PileUp => self.columns,
            AtMargin::NewLine => self.columns - 1,
        }
    }

    /// Whether the machine has type for this character; capitals only, never a space.
    pub fn has(&self, c: char) -> bool {
        let symbol = markhold_code::Symbol::Print(c);
        !self.lacks.contains(c) && markhold_code::lookup(symbol, self.figures).is_some()
    }

    /// Whether all fields are in range and hold together.
    ///
    /// # Errors
    ///
    /// The first field that is not, with what was found, what is expected and what to do.
    pub fn check(&self) -> Result<(), MachineError> {
        describe::Description::from(self.clone())
            .resolve()
            .map(drop)
    }
}

impl Default for Machine {
    /// The first of the ready-made [`kinds`].
    fn default() -> Self {
        kinds()[0].machine.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_machine_has() {
        let mut machine = Machine::default();
        assert!(machine.has('Q') && machine.has('$') && !machine.has('='));
        machine.lacks = "$Q".into();
        assert!(!machine.has('Q') && !machine.has('$') && machine.has('R'));
        machine.figures = Figures::Ita2;
        assert!(machine.has('='));
    }

    #[test]
    fn a_machine_with_a_new_line_of_its_own_keeps_one_column_free() {
        let columns = |at_margin| {
            let machine = Machine {
                at_margin,
                ..Machine::default()
            };
            machine.usable_columns()
        };
        assert_eq!(columns(AtMargin::PileUp), 72);
        assert_eq!(columns(AtMargin::NewLine), 71);
    }
}
