//! Runaway garble is left out, and printing goes on when good copy returns.
//!
//! Only doubtful characters close the gate, a set number of them in a row. While it is
//! closed, characters wait until so many sure ones came in a row that the copy is good
//! again; those are printed, and what came between is left out and counted.

use super::Copied;
use crate::machine::Machine;
use markhold_code::Symbol;

/// Spaces kept before the first character, as many as the longest line.
const LONGEST_LEAD: usize = 200;

/// What was left out, by rule.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Left {
    /// Characters left out while garble ran.
    pub garbled: u64,
    /// Bells that did not ring.
    pub bells: u64,
    /// Empty lines that were not fed.
    pub empty_lines: u64,
}

/// What becomes of a character.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gated {
    /// What may be printed now.
    pub through: Vec<Copied>,
    /// Printing stops here; `through` is empty.
    pub stops: bool,
}

/// The gate.
#[derive(Clone, Debug)]
pub struct Gate {
    // Configured.
    stop: usize,
    resume: usize,
    hold_s: f64,
    // State.
    open: bool,
    /// Doubtful characters in a row.
    doubtful: usize,
    /// Sure characters in a row that came to the closed gate.
    waiting: Vec<Copied>,
    left: u64,
}

impl Gate {
    /// Open, except before a motor at rest, which only good copy should start.
    pub fn new(machine: &Machine) -> Self {
        Gate {
            stop: machine.garble_stop.into(),
            resume: machine.garble_resume.into(),
            hold_s: machine.word_hold_s,
            open: !machine.motor,
            doubtful: 0,
            waiting: Vec::new(),
            left: 0,
        }
    }

    pub fn take(&mut self, copied: &Copied) -> Gated {
        if self.open {
            self.take_open(copied)
        } else {
            self.take_closed(copied)
        }
    }

    fn take_open(&mut self, copied: &Copied) -> Gated {
        if !copied.doubtful {
            self.doubtful = 0;
        } else if matches!(copied.symbol, Symbol::Print(_)) {
            self.doubtful += 1;
        }
        if self.stop > 0 && self.doubtful > self.stop {
            self.open = false;
            self.left += 1;
            return Gated {
                stops: true,
                ..Gated::default()
            };
        }
        Gated {
            through: vec![*copied],
            stops: false,
        }
    }

    fn take_closed(&mut self, copied: &Copied) -> Gated {
        if copied.doubtful {
            self.left += 1 + self.waiting.len() as u64;
            self.waiting.clear();
            return Gated::default();
        }
        if !self.prints() && !matches!(copied.symbol, Symbol::Print(_)) {
            self.lead(copied);
            return Gated::default();
        }
        self.waiting.push(*copied);
        let lead = self
            .waiting
            .iter()
            .take_while(|c| c.symbol == Symbol::Space)
            .count();
        if self.waiting.len() - lead < self.resume {
            return Gated::default();
        }
        Gated {
            through: self.opened(),
            stops: false,
        }
    }

    /// Sure characters that waited long enough for a doubtful one to follow.
    pub fn release(&mut self, now_s: f64) -> Vec<Copied> {
        let ripe = |copied: &Copied| now_s - copied.at_s >= self.hold_s;
        if self.prints() && self.waiting.last().is_some_and(ripe) {
            return self.opened();
        }
        Vec::new()
    }

    /// Before the first character that prints, nothing is worth starting for; but the
    /// spaces in front of it are its indentation.
    fn lead(&mut self, copied: &Copied) {
        match copied.symbol {
            Symbol::Space if self.waiting.len() < LONGEST_LEAD => self.waiting.push(*copied),
            Symbol::CarriageReturn | Symbol::LineFeed => self.waiting.clear(),
            _ => {}
        }
    }

    fn prints(&self) -> bool {
        self.waiting
            .iter()
            .any(|copied| matches!(copied.symbol, Symbol::Print(_)))
    }

    pub fn left(&self) -> Left {
        Left {
            garbled: self.left,
            ..Left::default()
        }
    }

    /// Opens; gives what waited.
    fn opened(&mut self) -> Vec<Copied> {
        self.open = true;
        self.doubtful = 0;
        std::mem::take(&mut self.waiting)
    }
}
