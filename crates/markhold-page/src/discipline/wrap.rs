//! Words are kept whole at the right margin.
//!
//! A word is sent letter by letter as it comes where even the longest one that is kept
//! whole would fit. Nearer to the margin it is held back until it ends and fits, or has
//! outgrown the line and goes to the next. Spaces wait for what follows them, so none is
//! sent at the end of a line.

use super::sender::Sender;
use super::{Ordered, Source};
use crate::machine::Machine;
use markhold_code::{Code, Symbol};

/// Part of a word that is held back: a letter, or something within the word that does not
/// move the carriage. The first is always a letter.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Held {
    symbol: Symbol,
    source: Option<Source>,
}

/// Breaks lines.
#[derive(Clone, Debug)]
pub struct Wrap {
    // Configured.
    columns: usize,
    longest: usize,
    hold_s: f64,
    // State.
    sender: Sender,
    /// Spaces since the last character.
    spaces: usize,
    /// The last character was printed and sent: what follows belongs to its word.
    in_word: bool,
    held: Vec<Held>,
    /// When the last character of `held` came, s.
    held_s: f64,
    now_s: f64,
}

impl Wrap {
    pub fn new(machine: &Machine) -> Self {
        Wrap {
            columns: machine.usable_columns().into(),
            longest: machine.longest_word.into(),
            hold_s: machine.word_hold_s,
            sender: Sender::new(machine),
            spaces: 0,
            in_word: false,
            held: Vec::new(),
            held_s: f64::NEG_INFINITY,
            now_s: f64::NEG_INFINITY,
        }
    }

    /// The time of what comes next.
    pub fn now(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        self.now_s = self.now_s.max(now_s);
        self.sender.now(self.now_s, out);
    }

    /// Whether the line holds nothing that prints.
    pub fn is_clear(&self) -> bool {
        self.sender.column() == 0 && self.held.is_empty()
    }

    pub fn space(&mut self, out: &mut Vec<Ordered>) {
        self.let_go(out);
        self.spaces += 1;
        self.in_word = false;
    }

    pub fn print(&mut self, c: char, source: Option<Source>, out: &mut Vec<Ordered>) {
        let held = Held {
            symbol: Symbol::Print(c),
            source,
        };
        if self.in_word {
            self.letter(held, out);
        } else if self.held.is_empty() && self.longest_fits() {
            self.spaces_out(out);
            self.letter(held, out);
        } else {
            self.hold(held, out);
        }
    }

    /// What does not move the carriage keeps its place in the text.
    pub fn still(&mut self, symbol: Symbol, source: Option<Source>, out: &mut Vec<Ordered>) {
        if self.held.is_empty() {
            self.sender.still(symbol, source, out);
        } else {
            self.held.push(Held { symbol, source });
        }
    }

    pub fn new_line(&mut self, out: &mut Vec<Ordered>) {
        self.end_of_line(out);
        self.sender.new_line(out);
    }

    pub fn carriage_return(&mut self, out: &mut Vec<Ordered>) {
        self.end_of_line(out);
        if self.sender.column() > 0 {
            self.sender.carriage_return(out);
        }
    }

    /// Lets a held word go that waited its time, and the motor rest.
    pub fn pass(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        self.now_s = self.now_s.max(now_s);
        if !self.held.is_empty() && now_s - self.held_s >= self.hold_s {
            self.let_go(out);
        }
        self.sender.now(now_s, out);
    }

    pub fn idle(&mut self, code: Code, out: &mut Vec<Ordered>) {
        self.sender.idle(code, out);
    }

    pub fn finish(&mut self, out: &mut Vec<Ordered>) {
        self.end_of_line(out);
        if self.sender.column() > 0 {
            self.sender.new_line(out);
        }
        self.sender.finish(out);
    }

    /// Columns that the held word takes.
    fn width(&self) -> usize {
        let printing = |held: &&Held| matches!(held.symbol, Symbol::Print(_));
        self.held.iter().filter(printing).count()
    }

    fn longest_fits(&self) -> bool {
        self.sender.column() + self.spaces + self.longest <= self.columns
    }

    fn hold(&mut self, held: Held, out: &mut Vec<Ordered>) {
        self.held.push(held);
        self.held_s = self.now_s;
        let column = self.sender.column();
        if column + self.spaces + self.width() <= self.columns {
            return;
        }
        if column > 0 {
            self.sender.new_line(out);
        }
        // In an empty line it is the indentation that leaves no room.
        self.spaces = 0;
        self.let_go(out);
    }

    /// Sends what is held, spaces before it included.
    fn let_go(&mut self, out: &mut Vec<Ordered>) {
        for held in std::mem::take(&mut self.held) {
            match held.symbol {
                Symbol::Print(_) => {
                    self.spaces_out(out);
                    self.letter(held, out);
                }
                still => self.sender.still(still, held.source, out),
            }
        }
    }

    /// One letter of a word that is not divided unless it must be.
    fn letter(&mut self, held: Held, out: &mut Vec<Ordered>) {
        if self.sender.column() >= self.columns {
            self.sender.new_line(out);
        }
        self.sender.print(held.symbol, held.source, out);
        self.in_word = true;
    }

    fn spaces_out(&mut self, out: &mut Vec<Ordered>) {
        for _ in 0..std::mem::take(&mut self.spaces) {
            self.sender.space(out);
        }
    }

    fn end_of_line(&mut self, out: &mut Vec<Ordered>) {
        self.let_go(out);
        self.spaces = 0;
        self.in_word = false;
    }
}
