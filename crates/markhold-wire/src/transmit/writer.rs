//! Text to the pieces of an over: the same line discipline as for a machine, the call where it
//! is due, and something to send while there is nothing.

use super::identity::Identity;
use super::morse::{dot_s, morse};
use super::piece::{Given, Piece, Script, TextGiven};
use super::plan::{Idle, TransmitterPlan};
use markhold_code::{Code, Stretch};
use markhold_page::{Copied, Discipline, MachineError, Order, Ordered};
use std::collections::VecDeque;

/// Longest mark in one piece while there is nothing to send, s: what is typed goes out so soon.
const NAP_S: f64 = 0.02;

/// Writes an over.
pub struct Writer<T> {
    // Configured.
    text: T,
    idle: Idle,
    morse_every_s: Option<f64>,
    dot_s: f64,
    // State.
    identity: Option<Identity>,
    discipline: Discipline,
    pieces: VecDeque<Piece>,
    scratch: Vec<Ordered>,
    /// The character taken last.
    before: char,
    /// When Morse was sent last, s.
    morse_s: Option<f64>,
    ended: bool,
}

impl<T: TextGiven> Writer<T> {
    /// Writes this text for a transmitter. Without a call it identifies nobody, which will do
    /// for a file only.
    ///
    /// # Errors
    ///
    /// The plan gives no printer that holds together.
    pub fn new(plan: &TransmitterPlan, text: T) -> Result<Self, MachineError> {
        let identity = |call: &String| Identity::new(call, plan.identify_every_s);
        Ok(Writer {
            text,
            idle: plan.idle,
            morse_every_s: plan.morse_every_s,
            dot_s: dot_s(plan.morse_wpm),
            identity: plan.call.as_ref().map(identity),
            discipline: Discipline::new(&plan.printer())?,
            pieces: VecDeque::new(),
            scratch: Vec::new(),
            before: '\n',
            morse_s: None,
            ended: false,
        })
    }

    /// A character of the text, the call before it where it is due and a line begins.
    fn character(&mut self, c: char, at_s: f64) {
        let line = self.before == '\n';
        let due = self
            .identity
            .as_ref()
            .is_some_and(|identity| identity.is_due(line, at_s));
        if due && self.before.is_whitespace() {
            self.identify(at_s);
            self.put('\n', at_s);
        }
        self.put(c, at_s);
    }

    fn put(&mut self, c: char, at_s: f64) {
        if let Some(identity) = &mut self.identity {
            identity.sent(c, at_s);
        }
        for copied in Copied::of_text(c.encode_utf8(&mut [0; 4]), at_s) {
            self.discipline.take(&copied, &mut self.scratch);
        }
        self.before = c;
        self.gather();
    }

    /// The call in a line of its own.
    fn identify(&mut self, at_s: f64) {
        let Some(words) = self.identity.as_ref().map(Identity::words) else {
            return;
        };
        if self.before != '\n' {
            self.put('\n', at_s);
        }
        words.chars().for_each(|c| self.put(c, at_s));
        self.put(' ', at_s);
    }

    /// The over ends: the call if its last line has none, the line end, and Morse where due.
    fn end(&mut self, at_s: f64) {
        let identity = self.identity.as_mut();
        if identity.is_some_and(|identity| !identity.ended(at_s)) {
            self.identify(at_s);
        }
        self.discipline.finish(&mut self.scratch);
        self.gather();
        self.morse(at_s);
        self.ended = true;
    }

    fn morse(&mut self, at_s: f64) {
        let (Some(every_s), Some(identity)) = (self.morse_every_s, &self.identity) else {
            return;
        };
        if self.morse_s.is_some_and(|last_s| at_s - last_s < every_s) {
            return;
        }
        self.morse_s = Some(at_s);
        // The start-stop receiver ends its character first.
        self.pieces.push_back(Piece::Mark(7.0 * self.dot_s));
        for (down, up) in morse(&identity.words()) {
            let stretch = |mark, dots: u8| Stretch {
                mark,
                length_s: f64::from(dots) * self.dot_s,
            };
            self.pieces
                .push_back(Piece::Line([stretch(false, down), stretch(true, 1)]));
            if up > 1 {
                self.pieces
                    .push_back(Piece::Mark(f64::from(up - 1) * self.dot_s));
            }
        }
    }

    /// From orders to pieces; a printer at the other end has no motor of ours.
    fn gather(&mut self) {
        let piece = |ordered: Ordered| match ordered.order {
            Order::Send(code) => Some(Piece::Code(code)),
            Order::Hold(seconds) => Some(Piece::Mark(seconds)),
            Order::Motor(_) => None,
        };
        self.pieces.extend(self.scratch.drain(..).filter_map(piece));
    }

    /// Nothing is there to send.
    fn rest(&mut self, at_s: f64) -> Piece {
        self.discipline.pass(at_s, &mut self.scratch);
        let code = match self.idle {
            Idle::None => None,
            Idle::Letters => Some(Code::LETTERS),
            Idle::Blank => Some(Code::BLANK),
        };
        if let Some(code) = code.filter(|_| self.scratch.is_empty()) {
            self.discipline.idle(code, &mut self.scratch);
        }
        self.gather();
        self.pieces.pop_front().unwrap_or(Piece::Mark(NAP_S))
    }
}

impl<T: TextGiven> Script for Writer<T> {
    fn next(&mut self, at_s: f64) -> Piece {
        loop {
            if let Some(piece) = self.pieces.pop_front() {
                return piece;
            }
            if self.ended {
                return Piece::End;
            }
            match self.text.next(at_s) {
                Given::Char(c) => self.character(c, at_s),
                Given::NotYet => return self.rest(at_s),
                Given::End => self.end(at_s),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::piece::Typed;
    use super::*;
    use markhold_code::decode;

    fn plan(keys: &str) -> TransmitterPlan {
        let settings = format!("[transmitter]\n{keys}");
        TransmitterPlan::of_settings(&settings, Default::default()).unwrap()
    }

    /// All pieces, and when each began.
    fn pieces(plan: &TransmitterPlan, text: Typed) -> Vec<(f64, Piece)> {
        let mut writer = Writer::new(plan, text).unwrap();
        let (mut all, mut at_s) = (Vec::new(), 0.0);
        loop {
            let piece = writer.next(at_s);
            all.push((at_s, piece));
            at_s += match piece {
                Piece::Code(_) => plan.speed().character_s(),
                Piece::Mark(seconds) => seconds,
                Piece::Line(stretches) => stretches.iter().map(|s| s.length_s).sum(),
                Piece::End => return all,
            };
        }
    }

    /// What a printer would have of it; its line ends as they are sent.
    fn text(plan: &TransmitterPlan, text: Typed) -> String {
        let code = |(_, piece): &(f64, Piece)| match piece {
            Piece::Code(code) => Some(*code),
            _ => None,
        };
        let codes: Vec<Code> = pieces(plan, text).iter().filter_map(code).collect();
        decode(&codes, plan.figures, false).replace("\r\r\n", "\n")
    }

    #[test]
    fn an_over_begins_with_a_line_and_ends_with_the_call() {
        let plan = plan("call = \"Q1ABC\"");
        let sent = |given: &str| text(&plan, Typed::at_once(given));
        assert_eq!(sent("good evening"), "\nGOOD EVENING\nDE Q1ABC\n");
        assert_eq!(sent("CQ DE Q1ABC K"), "\nCQ DE Q1ABC K\n");
        assert_eq!(sent(""), "\nDE Q1ABC\n");
    }

    #[test]
    fn without_a_call_nobody_is_identified() {
        assert_eq!(text(&plan(""), Typed::at_once("cq")), "\nCQ\n");
    }

    #[test]
    fn the_call_comes_as_often_as_it_is_due() {
        let plan = plan("call = \"Q1ABC\"\nidentify_every_s = 60");
        let sent = text(&plan, Typed::at_once(&"GOOD EVENING ALL\n".repeat(50)));
        let places: Vec<usize> = sent
            .match_indices("\nDE Q1ABC\n")
            .map(|(at, _)| at)
            .collect();
        // 50 lines of 20 operations at 6.06 a second: 165 s. Due 45 to 60 s after the last one:
        // three times on the way, and at the end.
        assert_eq!(places.len(), 4, "{sent}");
        assert_eq!(sent.matches("GOOD EVENING ALL").count(), 50);
    }

    #[test]
    fn idle_codes_fill_what_is_typed_slowly() {
        for (idle, code) in [("letters", Code::LETTERS), ("blank", Code::BLANK)] {
            let plan = plan(&format!("idle = \"{idle}\""));
            let typed = || Typed::at_words_per_minute("CQ 73 73", 20.0);
            let all = pieces(&plan, typed());
            let count = all
                .iter()
                .filter(|(_, piece)| *piece == Piece::Code(code))
                .count();
            assert!(count > 8, "{all:?}");
            assert!(
                all.iter()
                    .all(|(_, piece)| !matches!(piece, Piece::Mark(_)))
            );
            assert_eq!(text(&plan, typed()), "\nCQ 73 73\n");
        }
        let all = pieces(&plan(""), Typed::at_words_per_minute("CQ CQ CQ", 20.0));
        assert!(all.iter().any(|(_, piece)| *piece == Piece::Mark(NAP_S)));
    }

    #[test]
    fn long_lines_are_laid_out_and_what_is_lacking_is_written_otherwise() {
        let plan = plan("columns = 20\ncall = \"Q1ABC\"");
        let sent = text(
            &plan,
            Typed::at_once("the quick brown fox jumps = 5 % de Q1ABC"),
        );
        assert!(
            sent.lines()
                .all(|line| line.trim_end_matches('\r').len() <= 20),
            "{sent}"
        );
        assert!(sent.contains("EQUALS") && sent.contains("0/0"), "{sent}");
    }

    /// 85 dots of 60 ms, and the pause of a word behind them.
    #[test]
    fn morse_comes_at_the_end_where_it_is_wished() {
        let plan = plan("call = \"Q1ABC\"\nmorse_every_s = 600");
        let all = pieces(&plan, Typed::at_once("CQ"));
        let first = all
            .iter()
            .find(|(_, piece)| matches!(piece, Piece::Line(_)))
            .unwrap()
            .0;
        let (end, _) = all.last().unwrap();
        assert!((end - first - 92.0 * 0.06).abs() < 1e-9, "{first} {end}");
    }
}
