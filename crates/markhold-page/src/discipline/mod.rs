//! Line discipline: what this machine can print of any copy.
//!
//! # Steps
//!
//! ```text
//! copy -> gate -> bells -> lines -> wrap -> sender -> motor -> orders
//! ```
//!
//! * `gate`: runaway garble is left out, and printing goes on when good copy returns.
//! * `bells`: no more than the machine's owner can bear.
//! * `lines`: carriage returns and line feeds as they came become new lines.
//! * `wrap`: words are kept whole at the right margin.
//! * `sender`: codes with their shifts, line endings, and time for the carriage.
//! * `motor`: started before the first code, stopped after a rest.

mod bells;
mod copied;
mod gate;
mod instead;
mod lines;
mod motor;
mod order;
mod sender;
mod wrap;

pub use copied::Copied;
pub use gate::Left;
pub use order::{Order, Ordered, Source, timed};

use crate::machine::{Machine, MachineError};
use bells::Bells;
use gate::Gate;
use lines::{Lines, Step};
use markhold_code::{Code, Symbol, needs_hyphen};
use wrap::Wrap;

/// Turns copy into orders for one machine, while the copy arrives.
///
/// The first thing sent is a new line, since nobody knows where the carriage stands.
#[derive(Clone, Debug)]
pub struct Discipline {
    // Configured.
    machine: Machine,
    // State.
    gate: Gate,
    bells: Bells,
    lines: Lines,
    wrap: Wrap,
    /// The character that was let through last.
    before: Option<char>,
}

impl Discipline {
    /// Discipline for this machine.
    ///
    /// # Errors
    ///
    /// As [`Machine::check`].
    pub fn new(machine: &Machine) -> Result<Self, MachineError> {
        machine.check()?;
        Ok(Discipline {
            machine: machine.clone(),
            gate: Gate::new(machine),
            bells: Bells::new(machine.bells_per_minute),
            lines: Lines::new(machine),
            wrap: Wrap::new(machine),
            before: None,
        })
    }

    /// Takes one character of copy, gives orders to `out`.
    pub fn take(&mut self, copied: &Copied, out: &mut Vec<Ordered>) {
        self.wrap.now(copied.at_s, out);
        let gated = self.gate.take(copied);
        if gated.stops {
            self.note(copied.at_s, out);
        }
        gated
            .through
            .iter()
            .for_each(|copied| self.let_through(copied, out));
    }

    /// Says that nothing more had arrived by `now_s`: a word that was held back to see
    /// whether it fits is let go after its time, and a motor that rested long enough is
    /// stopped. To be called every second or so in live copy.
    pub fn pass(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        let waiting = self.gate.release(now_s);
        waiting
            .iter()
            .for_each(|copied| self.let_through(copied, out));
        self.wrap.pass(now_s, out);
    }

    /// Nothing is there to send, and this code is sent meanwhile, which prints nothing: a letters
    /// shift or a blank. A word that is held back stays so; what follows has its shift again.
    pub fn idle(&mut self, code: Code, out: &mut Vec<Ordered>) {
        self.wrap.idle(code, out);
    }

    /// The copy ended: everything held back is given, the line is ended, the motor stopped.
    /// Copy may follow all the same.
    pub fn finish(&mut self, out: &mut Vec<Ordered>) {
        let waiting = self.gate.release(f64::INFINITY);
        waiting
            .iter()
            .for_each(|copied| self.let_through(copied, out));
        self.wrap.finish(out);
        self.lines = Lines::new(&self.machine);
    }

    /// What was left out so far, and by which rule.
    pub fn left(&self) -> Left {
        let mut left = self.gate.left();
        left.bells = self.bells.left();
        left.empty_lines = self.lines.left();
        left
    }

    /// A visible note that text was left out, and a new line for what comes after it.
    fn note(&mut self, at_s: f64, out: &mut Vec<Ordered>) {
        if self.machine.garble_note.is_empty() {
            return;
        }
        let note = format!(" {}", self.machine.garble_note);
        for copied in Copied::of_text(&note, at_s).chain([Copied::sure(Symbol::LineFeed, at_s)]) {
            self.put_down(copied.symbol, None, out);
        }
    }

    fn let_through(&mut self, copied: &Copied, out: &mut Vec<Ordered>) {
        let source = Some(copied.source());
        let now = match copied.symbol {
            Symbol::Print(c) => Some(c),
            Symbol::Space | Symbol::LineFeed => None,
            _ => self.before,
        };
        let before = std::mem::replace(&mut self.before, now);
        match copied.symbol {
            Symbol::Bell if !self.bells.rings(copied) => {}
            Symbol::WhoAreYou if copied.doubtful || !self.machine.who_are_you => {}
            Symbol::Print(c) => {
                let mut written = self.printable(c, copied.doubtful);
                if needs_hyphen(before, c) && written.len() > 1 && self.machine.has('-') {
                    written.insert(0, '-');
                }
                for c in written.chars() {
                    let symbol = if c == ' ' {
                        Symbol::Space
                    } else {
                        Symbol::Print(c)
                    };
                    self.put_down(symbol, source, out);
                }
            }
            other => self.put_down(other, source, out),
        }
    }

    fn put_down(&mut self, symbol: Symbol, source: Option<Source>, out: &mut Vec<Ordered>) {
        let doubtful = source.is_some_and(|source| source.doubtful);
        let clear = self.wrap.is_clear();
        for step in self.lines.step(symbol, doubtful, clear) {
            match step {
                Step::NewLine => self.wrap.new_line(out),
                Step::Return => self.wrap.carriage_return(out),
                Step::Space => self.wrap.space(out),
                Step::Print(c) => self.wrap.print(c, source, out),
                Step::Still(symbol) => self.wrap.still(symbol, source, out),
            }
        }
    }

    /// What the machine prints for a character. For a doubtful one that it lacks, it is not
    /// worth spelling out what may not have been sent.
    fn printable(&self, c: char, doubtful: bool) -> String {
        let machine = &self.machine;
        let written = match machine.doubt_mark.filter(|_| doubtful) {
            Some(mark) => mark.into(),
            None => instead::printable(c, machine),
        };
        match written.chars().nth(1) {
            Some(_) if doubtful => machine.replacement.into(),
            _ => written,
        }
    }
}

/// All orders for a copy that is there as a whole.
///
/// # Errors
///
/// As [`Machine::check`].
pub fn discipline(
    machine: &Machine,
    copy: impl IntoIterator<Item = Copied>,
) -> Result<Vec<Ordered>, MachineError> {
    let mut discipline = Discipline::new(machine)?;
    let mut orders = Vec::new();
    copy.into_iter()
        .for_each(|copied| discipline.take(&copied, &mut orders));
    discipline.finish(&mut orders);
    Ok(orders)
}

#[cfg(test)]
mod tests;
