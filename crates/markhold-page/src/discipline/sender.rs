//! Codes with their shifts, line endings, and time for the carriage.

use super::motor::Motor;
use super::{Order, Ordered, Source};
use crate::machine::{Fill, LineEnding, Machine};
use markhold_code::{Code, FiguresRow, Shift, StartStop, Symbol, lookup};

/// Rounding allowed when a wait is just long enough, characters.
const JUST_ENOUGH: f64 = 1e-9;

/// Knows the machine's shift and where its carriage stands.
#[derive(Clone, Debug)]
pub struct Sender {
    // Configured.
    row: FiguresRow,
    unshift_on_space: bool,
    shift_after_space: bool,
    shift_after_line: bool,
    line_end: LineEnding,
    fill: Fill,
    return_s: f64,
    speed: StartStop,
    // State.
    motor: Motor,
    /// `None` = the machine may be in either.
    shift: Option<Shift>,
    /// `None` = the carriage may be anywhere.
    column: Option<usize>,
}

impl Sender {
    pub fn new(machine: &Machine) -> Self {
        Sender {
            row: machine.figures,
            unshift_on_space: machine.unshift_on_space,
            shift_after_space: machine.shift_after_space,
            shift_after_line: machine.shift_after_line,
            line_end: machine.line_end.clone(),
            fill: machine.fill,
            return_s: machine.return_s,
            speed: machine.speed(),
            motor: Motor::new(machine),
            shift: None,
            column: None,
        }
    }

    /// Where the next character goes, columns from the left margin.
    pub fn column(&self) -> usize {
        self.column.unwrap_or(0)
    }

    /// The time of what comes next. A motor that rested long enough is stopped.
    pub fn now(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        self.motor.now(now_s, out);
    }

    pub fn print(&mut self, symbol: Symbol, source: Option<Source>, out: &mut Vec<Ordered>) {
        self.begin(out);
        self.in_shift(symbol, source, out);
        self.column = self.column.map(|column| column + 1);
    }

    pub fn space(&mut self, out: &mut Vec<Ordered>) {
        self.begin(out);
        self.send(Code::SPACE, None, out);
        self.column = self.column.map(|column| column + 1);
        // In letters a space changes nothing on any printer.
        if self.shift_after_space && self.shift != Some(Shift::Letters) {
            self.shift = None;
        } else if self.unshift_on_space {
            self.shift = Some(Shift::Letters);
        }
    }

    /// A symbol that does not move the carriage.
    pub fn still(&mut self, symbol: Symbol, source: Option<Source>, out: &mut Vec<Ordered>) {
        self.wake(out);
        self.in_shift(symbol, source, out);
    }

    /// A code that prints nothing, while there is nothing to send.
    pub fn idle(&mut self, code: Code, out: &mut Vec<Ordered>) {
        self.wake(out);
        self.send(code, None, out);
    }

    pub fn new_line(&mut self, out: &mut Vec<Ordered>) {
        self.begin(out);
        self.line_end(out);
    }

    /// Back to the left margin of the same line.
    pub fn carriage_return(&mut self, out: &mut Vec<Ordered>) {
        self.begin(out);
        self.send(Code::CARRIAGE_RETURN, None, out);
        self.fill(1, out);
    }

    pub fn finish(&mut self, out: &mut Vec<Ordered>) {
        self.motor.finish(out);
    }

    /// Starts the motor, and a line if the carriage may be anywhere.
    fn begin(&mut self, out: &mut Vec<Ordered>) {
        self.wake(out);
        if self.column.is_none() {
            self.line_end(out);
        }
    }

    /// Starts the motor. A machine that stood still may be in either shift.
    fn wake(&mut self, out: &mut Vec<Ordered>) {
        if self.motor.start(out) {
            self.shift = None;
        }
    }

    fn line_end(&mut self, out: &mut Vec<Ordered>) {
        if self.shift_after_line {
            self.shift = None;
        }
        for code in self.line_end.codes().to_vec() {
            self.send(code, None, out);
        }
        self.fill(self.line_end.from_return(), out);
    }

    /// Waits until the carriage is home, `sent` characters after it started.
    fn fill(&mut self, sent: usize, out: &mut Vec<Ordered>) {
        let away = self.column != Some(0);
        self.column = Some(0);
        let left = self.return_s / self.speed.character_s() - sent as f64;
        if !away || left <= JUST_ENOUGH {
            return;
        }
        let code = match self.fill {
            Fill::Hold => {
                let seconds = left * self.speed.character_s();
                return self.motor.give(Order::Hold(seconds), None, out);
            }
            Fill::Letters => Code::LETTERS,
            Fill::Return => Code::CARRIAGE_RETURN,
            Fill::Blank => Code::BLANK,
        };
        for _ in 0..(left - JUST_ENOUGH).ceil() as usize {
            self.send(code, None, out);
        }
    }

    /// Sends a symbol, the shift that it needs before it; nothing if the row has none.
    fn in_shift(&mut self, symbol: Symbol, source: Option<Source>, out: &mut Vec<Ordered>) {
        let Some((code, needed)) = lookup(symbol, self.row) else {
            return;
        };
        match needed.filter(|_| needed != self.shift) {
            Some(Shift::Letters) => self.send(Code::LETTERS, None, out),
            Some(Shift::Figures) => self.send(Code::FIGURES, None, out),
            None => {}
        }
        self.send(code, source, out);
    }

    fn send(&mut self, code: Code, source: Option<Source>, out: &mut Vec<Ordered>) {
        self.motor.give(Order::Send(code), source, out);
        match code {
            Code::LETTERS => self.shift = Some(Shift::Letters),
            Code::FIGURES => self.shift = Some(Shift::Figures),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The codes' values of a new line after one character.
    fn line_end(machine: &Machine) -> Vec<Order> {
        let mut sender = Sender::new(machine);
        let mut out = Vec::new();
        sender.print(Symbol::Print('A'), None, &mut out);
        let before = out.len();
        sender.new_line(&mut out);
        out[before..].iter().map(|ordered| ordered.order).collect()
    }

    fn values(orders: &[Order]) -> Vec<u8> {
        let value = |order: &Order| match order {
            Order::Send(code) => code.value(),
            _ => 99,
        };
        orders.iter().map(value).collect()
    }

    fn machine(ending: &str, return_s: f64, fill: Fill) -> Machine {
        Machine {
            line_end: LineEnding::parse(ending).unwrap(),
            return_s,
            fill,
            rate_baud: 50.0,
            stop_units: 1.5,
            ..Machine::default()
        }
    }

    /// CR CR LF takes 450 ms at 50 baud (reference table 11.4), so 450 ms need no fill and
    /// 451 ms need one character.
    #[test]
    fn the_return_time_is_filled() {
        let end = |return_s, fill| values(&line_end(&machine("CR CR LF", return_s, fill)));
        assert_eq!(end(0.450, Fill::Letters), [8, 8, 2]);
        assert_eq!(end(0.451, Fill::Letters), [8, 8, 2, 31]);
        assert_eq!(end(0.9, Fill::Return), [8, 8, 2, 8, 8, 8]);
        assert_eq!(end(0.6, Fill::Blank), [8, 8, 2, 0]);
        assert_eq!(end(0.0, Fill::Letters), [8, 8, 2]);
        // The time counts from the first return, not from a line feed before it.
        let early = machine("LF CR", 0.3, Fill::Letters);
        assert_eq!(values(&line_end(&early)), [2, 8, 31]);
    }

    #[test]
    fn holding_is_exact() {
        let orders = line_end(&machine("CR LF", 0.325, Fill::Hold));
        let Order::Hold(seconds) = orders[2] else {
            panic!("{orders:?}");
        };
        assert!((seconds - 0.025).abs() < 1e-12);
    }

    #[test]
    fn an_empty_line_needs_no_fill() {
        let mut sender = Sender::new(&machine("CR LF", 0.9, Fill::Letters));
        let mut out = Vec::new();
        sender.new_line(&mut out);
        // The carriage may be anywhere at first: that is filled, the empty line is not.
        let orders: Vec<Order> = out.iter().map(|ordered| ordered.order).collect();
        assert_eq!(values(&orders), [8, 2, 31, 31, 31, 31, 8, 2]);
    }

    #[test]
    fn shifts_are_sent_again_as_wished() {
        let sent = |machine: &Machine| {
            let mut sender = Sender::new(machine);
            let mut out = Vec::new();
            sender.column = Some(0);
            for _ in 0..2 {
                sender.print(Symbol::Print('1'), None, &mut out);
                sender.space(&mut out);
                sender.print(Symbol::Print('1'), None, &mut out);
                sender.new_line(&mut out);
            }
            values(&out.iter().map(|ordered| ordered.order).collect::<Vec<_>>())
        };
        let mut machine = machine("CR LF", 0.0, Fill::Letters);
        machine.shift_after_space = true;
        machine.shift_after_line = true;
        let again = [27, 23, 4, 27, 23, 8, 2];
        assert_eq!(sent(&machine), [again, again].concat());
        machine.shift_after_line = false;
        assert_eq!(sent(&machine), [&again[..], &again[1..]].concat());
        machine.shift_after_space = false;
        machine.unshift_on_space = false;
        let once = [27, 23, 4, 23, 8, 2];
        assert_eq!(sent(&machine), [&once[..], &once[1..]].concat());
        // The machine's own unshift is known, so the shift is sent all the same.
        machine.unshift_on_space = true;
        assert_eq!(sent(&machine), [&again[..], &again[1..]].concat());
    }
}
