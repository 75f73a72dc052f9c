//! The printer: codes with their times in, a page out.
//!
//! The carriage of a page printer runs back by a spring, slowed by a dashpot, and does not
//! wait to be home before the next character is struck. Here it runs evenly: from column c
//! of n it needs c/n of the full return time. A character that arrives meanwhile is struck
//! wherever the carriage is, and the carriage runs on; the step belonging to it is lost.

use super::{Bell, Ink, Line, Page, Strike, Struck};
use crate::discipline::{Ordered, timed};
use crate::machine::{AtMargin, Blank, Machine};
use markhold_code::{Code, ShiftMachine, Symbol};

/// Tolerance when a character begins just as the carriage gets home, columns. Rounding
/// only: a full line of 200 columns in 5 s passes a column in 25 ms.
const JUST_HOME: f64 = 1e-6;

/// A carriage on its way back.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Returning {
    /// Where it started, columns.
    from: f64,
    /// When it started, s.
    began_s: f64,
}

/// A page printer at work.
///
/// A code is given with the time at which its start element begins. Every function of a
/// printer works the same time after that, so differences are what they are on the machine.
#[derive(Clone, Debug)]
pub struct Printer {
    // Configured.
    columns: u16,
    margin_lamp: u16,
    at_margin: AtMargin,
    blank: Blank,
    lacks: String,
    // Derived.
    /// Speed of the returning carriage, columns/s; infinite if it needs no time.
    return_speed: f64,
    // State.
    shift: ShiftMachine,
    /// Where the next character is struck unless the carriage is returning: 0 to
    /// `columns`, the latter being past the last one.
    column: u16,
    returning: Option<Returning>,
    now_s: f64,
    page: Page,
}

impl Printer {
    /// A printer with fresh paper, its carriage at the left margin, in letters.
    pub fn new(machine: &Machine) -> Self {
        Printer {
            columns: machine.columns,
            margin_lamp: machine.margin_lamp,
            at_margin: machine.at_margin,
            blank: machine.blank,
            lacks: machine.lacks.clone(),
            return_speed: f64::from(machine.columns) / machine.return_s,
            shift: ShiftMachine::new(machine.figures, machine.unshift_on_space),
            column: 0,
            returning: None,
            now_s: f64::NEG_INFINITY,
            page: Page::new(machine.columns),
        }
    }

    /// One code whose start element begins at `at_s`, seconds. Times should not go back; one
    /// that does counts as the latest so far.
    pub fn receive(&mut self, code: Code, at_s: f64) {
        self.receive_in(code, at_s, Ink::Sure);
    }

    /// As [`Printer::receive`], shown in this ink.
    pub fn receive_in(&mut self, code: Code, at_s: f64, ink: Ink) {
        self.now_s = self.now_s.max(at_s);
        self.end_return();
        match self.shift.receive(code) {
            Symbol::Print(c) => self.strike(c, ink),
            Symbol::Space => self.step(),
            Symbol::Blank if self.blank == Blank::Steps => self.step(),
            Symbol::CarriageReturn => self.carriage_return(),
            Symbol::LineFeed => self.page.lines.push(Line::default()),
            Symbol::Bell => self.page.bells.push(Bell {
                at_s: self.now_s,
                line: self.page.lines.len() - 1,
            }),
            Symbol::Letters | Symbol::Figures | Symbol::WhoAreYou | Symbol::Blank => {}
        }
    }

    /// Whether the margin lamp is lit.
    pub fn margin_lamp(&self) -> bool {
        self.margin_lamp > 0 && self.returning.is_none() && self.column + 1 >= self.margin_lamp
    }

    /// Where the carriage stands, columns from the left margin.
    pub fn carriage(&self) -> f64 {
        match self.returning {
            None => self.column.into(),
            Some(returning) => self.left(returning),
        }
    }

    /// The paper so far.
    pub fn page(&self) -> &Page {
        &self.page
    }

    /// Tears the paper off: what is printed so far, and fresh paper from here on.
    pub fn tear_off(&mut self) -> Page {
        std::mem::replace(&mut self.page, Page::new(self.columns))
    }

    /// How far a returning carriage still has to go, columns.
    fn left(&self, returning: Returning) -> f64 {
        let gone = (self.now_s - returning.began_s) * self.return_speed;
        // A carriage that needs no time is home at once, 0 times infinity or not.
        if gone.is_nan() {
            0.0
        } else {
            (returning.from - gone).max(0.0)
        }
    }

    fn end_return(&mut self) {
        if self
            .returning
            .is_some_and(|returning| self.left(returning) <= JUST_HOME)
        {
            self.returning = None;
            self.column = 0;
        }
    }

    fn strike(&mut self, character: char, ink: Ink) {
        let place = self.carriage().round() as u16;
        if !self.lacks.contains(character) {
            let strike = Strike {
                character,
                at_s: self.now_s,
                ink,
                in_return: self.returning.is_some(),
            };
            let column = place.min(self.columns - 1);
            let line = self.page.lines.last_mut().expect("paper has a line");
            line.struck.push(Struck { column, strike });
        }
        self.step();
    }

    fn step(&mut self) {
        if self.returning.is_some() || self.column == self.columns {
            return;
        }
        self.column += 1;
        if self.column == self.columns && self.at_margin == AtMargin::NewLine {
            self.carriage_return();
            self.page.lines.push(Line::default());
        }
    }

    fn carriage_return(&mut self) {
        if self.returning.is_none() && self.column > 0 {
            self.returning = Some(Returning {
                from: self.column.into(),
                began_s: self.now_s,
            });
        }
    }
}

/// What a machine prints of these orders, played one after the other from 0 s.
pub fn print<'a>(machine: &Machine, orders: impl IntoIterator<Item = &'a Ordered>) -> Page {
    let mut printer = Printer::new(machine);
    for (at_s, code, source) in timed(orders, machine.speed()) {
        let ink = source.map_or(Ink::Sure, |s| Ink::of(s.probability, s.doubtful));
        printer.receive_in(code, at_s, ink);
    }
    printer.page
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::text;
    use markhold_code::{EncodeOptions, FiguresRow, LineEnd, encode};
    use proptest::prelude::*;

    /// A machine of ten columns that needs one second to return.
    fn small() -> Machine {
        Machine {
            columns: 10,
            margin_lamp: 7,
            return_s: 1.0,
            ..Machine::default()
        }
    }

    /// Types `text`, a character every `each_s`; `\n` is a line feed alone.
    fn typed(machine: &Machine, typed: &str, each_s: f64) -> Printer {
        let mut printer = Printer::new(machine);
        let mut at_s = 0.0;
        for c in typed.chars() {
            let codes = match c {
                '\n' => vec![Code::LINE_FEED],
                c => encode(&c.to_string(), machine.figures, EncodeOptions::default()).unwrap(),
            };
            for code in codes {
                printer.receive(code, at_s);
            }
            at_s += each_s;
        }
        printer
    }

    fn printed(machine: &Machine, words: &str, each_s: f64) -> String {
        text::text(typed(machine, words, each_s).page())
    }

    #[test]
    fn return_and_line_feed_are_apart() {
        assert_eq!(printed(&small(), "AB\nCD", 1.0), "AB\n  CD\n");
        assert_eq!(printed(&small(), "AB\r\nCD", 1.0), "AB\nCD\n");
        assert_eq!(printed(&small(), "AB\n\rCD", 1.0), "AB\nCD\n");
    }

    #[test]
    fn a_lost_line_feed_overprints() {
        let printer = typed(&small(), "ABC\rXY", 1.0);
        let cells: Vec<String> = (0..3)
            .map(|k| {
                printer.page().lines[0]
                    .cell(k)
                    .map(|s| s.character)
                    .collect()
            })
            .collect();
        assert_eq!(cells, ["AX", "BY", "C"]);
        assert_eq!(printer.page().overstruck(), 2);
    }

    #[test]
    fn a_lost_return_piles_up_at_the_margin() {
        let page = printed(&small(), "ABCDEFGHIJKLM", 1.0);
        assert_eq!(page, "ABCDEFGHIJ\r         K\r         L\r         M\n");
    }

    #[test]
    fn a_machine_may_make_a_new_line_by_itself() {
        let machine = Machine {
            at_margin: AtMargin::NewLine,
            ..small()
        };
        assert_eq!(printed(&machine, "ABCDEFGHIJKLM", 1.0), "ABCDEFGHIJ\nKLM\n");
        // Faster than the carriage: K comes 0.3 s after the start of the return, at column 7,
        // L at 4, M at 1; then it is home, and O stands over M.
        let page = printed(&machine, "ABCDEFGHIJKLMNO", 0.3);
        assert_eq!(page, "ABCDEFGHIJ\nNM  L  K\r O\n");
    }

    #[test]
    fn characters_in_the_return_stand_where_the_carriage_is() {
        // Five columns take half a second. X comes 0.2 s after the return: 5 - 2 = column 3.
        let mut printer = typed(&small(), "ABCDE", 0.0);
        printer.receive(Code::CARRIAGE_RETURN, 1.0);
        printer.receive(Code::LINE_FEED, 1.1);
        let x = encode("X", FiguresRow::Us, EncodeOptions::default()).unwrap()[0];
        printer.receive(x, 1.2);
        assert!((printer.carriage() - 3.0).abs() < 1e-9);
        printer.receive(x, 1.5);
        assert_eq!(text::text(printer.page()), "ABCDE\nX  X\n");
        assert_eq!(printer.page().struck_in_return(), 1);
    }

    #[test]
    fn a_second_return_does_not_start_again() {
        let mut printer = typed(&small(), "ABCDE", 0.0);
        printer.receive(Code::CARRIAGE_RETURN, 1.0);
        printer.receive(Code::CARRIAGE_RETURN, 1.3);
        printer.receive(Code::LETTERS, 1.5);
        assert_eq!(printer.carriage(), 0.0);
    }

    #[test]
    fn bell_lamp_and_blanks() {
        let mut machine = small();
        let printer = typed(&machine, "AB\u{7}C", 1.0);
        assert_eq!(printer.page().bells, [Bell { at_s: 2.0, line: 0 }]);
        assert!(!typed(&machine, "ABCDE", 1.0).margin_lamp());
        assert!(typed(&machine, "ABCDEF", 1.0).margin_lamp());
        let blanks = |machine: &Machine| {
            let mut printer = Printer::new(machine);
            printer.receive(Code::BLANK, 0.0);
            printer.carriage()
        };
        assert_eq!(blanks(&machine), 0.0);
        machine.blank = Blank::Steps;
        assert_eq!(blanks(&machine), 1.0);
    }

    #[test]
    fn unshift_on_space_and_missing_type() {
        let codes = [
            Code::FIGURES,
            Code::new(23).unwrap(),
            Code::SPACE,
            Code::new(23).unwrap(),
        ];
        let show = |machine: &Machine| {
            let mut printer = Printer::new(machine);
            for (k, code) in codes.into_iter().enumerate() {
                printer.receive(code, k as f64);
            }
            text::text(printer.page())
        };
        let mut machine = small();
        machine.unshift_on_space = true;
        assert_eq!(show(&machine), "1 Q\n");
        machine.unshift_on_space = false;
        assert_eq!(show(&machine), "1 1\n");
        machine.lacks = "1".into();
        assert_eq!(show(&machine), "\n");
    }

    /// Return times of reference table 11.4: from the start of the first CR to the next
    /// printing character, ms (arithmetic on the character times of the US Army and US Navy
    /// training texts). A carriage that needs 1 ms less is home, one that needs 2 ms more is
    /// not.
    #[test]
    fn line_endings_give_the_times_of_the_table() {
        let endings = [LineEnd::CrLf, LineEnd::CrCrLf, LineEnd::CrCrLfLetters];
        for (rate_baud, stop_units, times_ms) in [
            (1.0 / 0.022, 1.42, [326.0, 490.0, 653.0]),
            (50.0, 1.5, [300.0, 450.0, 600.0]),
            (75.0, 1.5, [200.0, 300.0, 400.0]),
            (100.0, 1.5, [150.0, 225.0, 300.0]),
        ] {
            for (line_end, time_ms) in endings.into_iter().zip(times_ms) {
                for (more_ms, in_return) in [(-1.0, 0), (2.0, 1)] {
                    let machine = Machine {
                        rate_baud,
                        stop_units,
                        columns: 20,
                        return_s: (time_ms + more_ms) / 1e3,
                        ..Machine::default()
                    };
                    let page = back_to_back("ABCDEFGHIJKLMNOPQRST\nE", &machine, line_end);
                    assert_eq!(
                        page.struck_in_return(),
                        in_return,
                        "{rate_baud} {line_end:?}"
                    );
                }
            }
        }
    }

    fn back_to_back(words: &str, machine: &Machine, line_end: LineEnd) -> Page {
        let options = EncodeOptions {
            line_end,
            ..EncodeOptions::default()
        };
        let mut printer = Printer::new(machine);
        for (k, code) in encode(words, machine.figures, options)
            .unwrap()
            .into_iter()
            .enumerate()
        {
            printer.receive(code, k as f64 * machine.speed().character_s());
        }
        printer.tear_off()
    }

    proptest! {
        /// Whatever comes, whenever: nothing is struck outside the line, nothing is lost.
        #[test]
        fn any_codes_at_any_time(
            values in proptest::collection::vec((0u8..32, -1.0f64..3.0), 0..300),
            new_line: bool,
        ) {
            let at_margin = if new_line { AtMargin::NewLine } else { AtMargin::PileUp };
            let machine = Machine { at_margin, ..small() };
            let mut printer = Printer::new(&machine);
            let mut reader = ShiftMachine::new(machine.figures, machine.unshift_on_space);
            let (mut at_s, mut expected) = (0.0, 0);
            for (value, wait) in values {
                at_s += wait;
                let code = Code::new(value).unwrap();
                printer.receive(code, at_s);
                expected += usize::from(matches!(reader.receive(code), Symbol::Print(_)));
                prop_assert!((0.0..=10.0).contains(&printer.carriage()));
            }
            let all: Vec<&Struck> =
                printer.page().lines.iter().flat_map(|line| &line.struck).collect();
            prop_assert_eq!(all.len(), expected);
            prop_assert!(all.iter().all(|struck| struck.column < 10));
        }
    }
}
