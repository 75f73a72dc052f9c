//! Codes to text, as somebody at the machine means it.

use super::echo::Judged;
use super::line::Stroke;
use markhold_code::{Carriage, FiguresRow, ShiftMachine, Step};

/// What somebody at the machine did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// This text was typed; most strokes print nothing or one character.
    Text(String),
    /// Sending is to stop.
    Break,
}

/// Follows the machine's shift: by what is typed, and by what it prints.
#[derive(Clone, Debug)]
pub struct Typist {
    shift: ShiftMachine,
    carriage: Carriage,
}

impl Typist {
    /// A machine in letters shift, with this figures row.
    pub fn new(row: FiguresRow, unshift_on_space: bool) -> Self {
        Typist {
            shift: ShiftMachine::new(row, unshift_on_space),
            carriage: Carriage::default(),
        }
    }

    /// What a stroke comes to. An echo moves the machine's shift and is no text.
    pub fn take(&mut self, stroke: Stroke, judged: Judged) -> Option<Typed> {
        let code = match (stroke, judged) {
            (Stroke::Break, _) => return Some(Typed::Break),
            (Stroke::Misread, _) | (_, Judged::Collided) => return None,
            (Stroke::Code(code), _) => code,
        };
        let symbol = self.shift.receive(code);
        if judged == Judged::Echo {
            return None;
        }
        let text = match self.carriage.step(symbol) {
            Step::Nothing => return None,
            Step::NewLine => "\n".into(),
            Step::Print(c) => c.to_string(),
            Step::NewLinePrint(c) => format!("\n{c}"),
        };
        Some(Typed::Text(text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Code;

    fn text(strokes: &[(u8, Judged)]) -> String {
        let mut typist = Typist::new(FiguresRow::Us, false);
        let code = |value| Stroke::Code(Code::new(value).unwrap());
        let typed = strokes
            .iter()
            .filter_map(|(value, judged)| typist.take(code(*value), *judged));
        typed
            .map(|typed| match typed {
                Typed::Text(text) => text,
                Typed::Break => panic!("no break was typed"),
            })
            .collect()
    }

    /// ITA2 with the US figures row (ITU-T S.1 and a public library's tests): A is 3, 1 is
    /// figures Q (23), CR 8, LF 2.
    #[test]
    fn shifts_are_followed_and_lines_end() {
        let typed = |values: &[u8]| {
            let strokes: Vec<_> = values.iter().map(|v| (*v, Judged::Typed)).collect();
            text(&strokes)
        };
        assert_eq!(typed(&[3, 27, 23, 31, 3, 8, 8, 2, 3]), "A1A\nA");
        assert_eq!(typed(&[3, 8, 3]), "A\nA");
        assert_eq!(typed(&[0, 31, 27]), "");
    }

    /// The machine stands in figures once it has printed some, whoever sent them.
    #[test]
    fn what_is_printed_shifts_the_keyboard_too() {
        let strokes = [(27, Judged::Echo), (23, Judged::Echo), (23, Judged::Typed)];
        assert_eq!(text(&strokes), "1");
        let strokes = [(27, Judged::Collided), (23, Judged::Typed)];
        assert_eq!(text(&strokes), "Q");
    }
}
