//! Characters in, rows out: line discipline and printer of one machine.

use super::Under;
use super::row::Row;
use markhold_code::StartStop;
use markhold_event::Character;
use markhold_page::{Copied, Discipline, Machine, Order, Ordered, Printer};
use std::collections::VecDeque;
use std::sync::Arc;

/// Characters that may wait to be typed: the longest word that is kept whole has 200.
const WAITING: usize = 256;

/// Types on paper. A copy of one types on from where it stands.
#[derive(Clone, Debug)]
pub struct Typist {
    // Derived.
    speed: StartStop,
    // State.
    /// `None` for a machine that does not hold together, which types nothing.
    discipline: Option<Discipline>,
    printer: Printer,
    /// When the next code begins, s of the machine's own time.
    next_s: f64,
    /// The latest characters, to be found again when they are struck, and whether they are
    /// first readings.
    latest: VecDeque<(Arc<Character>, bool)>,
}

impl Typist {
    /// At a fresh sheet.
    pub fn new(machine: &Machine) -> Self {
        Self {
            speed: machine.speed(),
            discipline: Discipline::new(machine).ok(),
            printer: Printer::new(machine),
            next_s: 0.0,
            latest: VecDeque::new(),
        }
    }

    /// Takes a character and types what can be typed by now; `early` = not decided yet.
    pub fn take(&mut self, character: &Arc<Character>, early: bool, rows: &mut Vec<Row>) {
        self.latest.push_back((Arc::clone(character), early));
        let over = self.latest.len().saturating_sub(WAITING);
        self.latest.drain(..over);
        let copied = Copied {
            symbol: character.symbol,
            at_s: character.start_s,
            probability: character.probability,
            doubtful: character.doubt.is_some(),
        };
        let mut orders = Vec::new();
        if let Some(discipline) = &mut self.discipline {
            discipline.take(&copied, &mut orders);
        }
        self.play(&orders, rows);
    }

    /// Types what is held back to see whether it fits its line.
    pub fn let_go(&mut self, rows: &mut Vec<Row>) {
        let mut orders = Vec::new();
        if let Some(discipline) = &mut self.discipline {
            discipline.pass(f64::INFINITY, &mut orders);
        }
        self.play(&orders, rows);
    }

    /// Nothing waits to be typed: what was taken is not kept to be found again.
    pub fn forget(&mut self) {
        self.latest = VecDeque::new();
    }

    /// Where the carriage is.
    pub fn under(&self) -> Under {
        Under {
            column: self.printer.carriage(),
            lamp: self.printer.margin_lamp(),
        }
    }

    fn play(&mut self, orders: &[Ordered], rows: &mut Vec<Row>) {
        for ordered in orders {
            if let Order::Send(code) = ordered.order {
                self.printer.receive(code, self.next_s);
                self.tear_off(ordered.source.map(|source| source.at_s), rows);
            }
            self.next_s += ordered.order.lasts_s(self.speed);
        }
    }

    /// Adds to the rows what the code just received left on the paper. The very first new
    /// line, which every machine is sent since nobody knows where its carriage stands, makes
    /// the first row.
    fn tear_off(&mut self, at_s: Option<f64>, rows: &mut Vec<Row>) {
        let torn = self.printer.tear_off();
        for (k, line) in torn.lines.iter().enumerate() {
            if k > 0 || rows.is_empty() && !line.struck.is_empty() {
                rows.push(Row::default());
            }
            for struck in &line.struck {
                let of = at_s.and_then(|at_s| self.find(at_s));
                let row = rows.last_mut().expect("pushed above");
                row.strike(struck.column, struck.strike.character, of);
            }
        }
        if let Some(row) = rows.last_mut() {
            row.bells += torn.bells.len() as u16;
        }
    }

    fn find(&self, at_s: f64) -> Option<(Arc<Character>, bool)> {
        let here = |(character, _): &&(Arc<Character>, bool)| character.start_s == at_s;
        self.latest.iter().rev().find(here).cloned()
    }
}
