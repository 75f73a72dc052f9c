//! What went out, as it would be printed: the codes of an over, read back.

use markhold_code::{Carriage, Code, FiguresRow, ShiftMachine, Step};
use markhold_event::SentLine;
use markhold_wire::transmit::{Piece, Script};

/// A line that is still being sent is told again after so many characters: what a crash may cost.
const TOLD_EVERY: usize = 20;

/// Where lines are told.
pub type TellLine<'a> = &'a dyn Fn(SentLine);

/// Reads back the pieces of an over while they are taken.
pub struct Went<'a, S> {
    script: S,
    lines: Lines,
    tell: TellLine<'a>,
    /// Taken and perhaps not sent yet: the next is asked for once it is.
    taken: Option<Code>,
}

impl<'a, S: Script> Went<'a, S> {
    /// The next line is of this number.
    pub fn new(script: S, row: FiguresRow, number: u64, tell: TellLine<'a>) -> Self {
        Went {
            script,
            lines: Lines {
                shift: ShiftMachine::new(row, false),
                carriage: Carriage::default(),
                line: SentLine {
                    number,
                    ..SentLine::default()
                },
                told: 0,
            },
            tell,
            taken: None,
        }
    }

    /// The over has ended; the number of the line after it.
    pub fn finish(mut self, is_whole: bool) -> u64 {
        if let Some(code) = self.taken.take().filter(|_| is_whole) {
            self.lines.take(code, self.tell);
        }
        self.lines.close(self.tell);
        self.lines.line.number
    }
}

impl<S: Script> Script for Went<'_, S> {
    fn next(&mut self, at_s: f64) -> Piece {
        if let Some(code) = self.taken.take() {
            self.lines.take(code, self.tell);
        }
        let piece = self.script.next(at_s);
        if let Piece::Code(code) = piece {
            self.taken = Some(code);
        }
        piece
    }
}

struct Lines {
    shift: ShiftMachine,
    carriage: Carriage,
    line: SentLine,
    /// Characters of the line that were told.
    told: usize,
}

impl Lines {
    fn take(&mut self, code: Code, tell: TellLine) {
        match self.carriage.step(self.shift.receive(code)) {
            Step::Nothing => {}
            Step::NewLine => self.close(tell),
            Step::Print(c) => self.print(c, tell),
            Step::NewLinePrint(c) => {
                self.close(tell);
                self.print(c, tell);
            }
        }
    }

    fn print(&mut self, c: char, tell: TellLine) {
        self.line.text.push(c);
        let count = self.line.text.chars().count();
        if count == 1 || count >= self.told + TOLD_EVERY {
            self.told = count;
            tell(self.line.clone());
        }
    }

    /// Lines of nothing are told to nobody.
    fn close(&mut self, tell: TellLine) {
        if self.line.text.trim().is_empty() {
            self.line.text.clear();
        } else {
            self.line.closed = true;
            tell(self.line.clone());
            self.line = SentLine {
                number: self.line.number + 1,
                ..SentLine::default()
            };
        }
        self.told = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_wire::transmit::{TransmitterPlan, Typed, Writer};
    use std::cell::RefCell;

    fn over(text: &str, pieces: usize) -> (Vec<SentLine>, u64) {
        let settings = "[transmitter]\ncall = \"Q1ABC\"\ncolumns = 40";
        let plan = TransmitterPlan::of_settings(settings, Default::default()).unwrap();
        let told = RefCell::new(Vec::new());
        let tell = |line| told.borrow_mut().push(line);
        let writer = Writer::new(&plan, Typed::at_once(text)).unwrap();
        let mut went = Went::new(writer, plan.figures, 7, &tell);
        let whole = (0..pieces).any(|_| went.next(0.0) == Piece::End);
        let next = went.finish(whole);
        (told.into_inner(), next)
    }

    #[test]
    fn it_is_told_as_it_is_printed_with_the_call_that_was_added() {
        let (told, next) = over("good evening all, 599 = fine\nbye", 1000);
        let closed = |line: &&SentLine| line.closed;
        let whole: Vec<_> = told
            .iter()
            .filter(closed)
            .map(|l| (l.number, l.text.as_str()))
            .collect();
        let expected = [
            (7, "GOOD EVENING ALL, 599  EQUALS  FINE"),
            (8, "BYE"),
            (9, "DE Q1ABC"),
        ];
        assert_eq!((&whole[..], next), (&expected[..], 10));
        // A line is told from its first character on, and now and then as it grows.
        assert_eq!(told[0].text, "G");
        assert_eq!(told[1].text.len(), 21);
    }

    #[test]
    fn what_did_not_go_out_is_not_told() {
        let (told, next) = over("ABCDEF", 7);
        // CR CR LF LTRS A B have gone, C was taken and not sent.
        let last = told.last().unwrap();
        assert!(last.closed && "ABCDEF".starts_with(&last.text) && last.text.len() < 6);
        assert_eq!(next, 8);
    }
}
