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
