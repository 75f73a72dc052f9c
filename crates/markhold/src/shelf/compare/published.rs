//! A published text, as it would be sent.

use markhold_code::{Code, EncodeOptions, FiguresRow, Shift, ShiftMachine, Symbol, encode_lossy};
use markhold_join::Expected;

/// A printed character of the text; what parts words is one space, however it is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct Theirs {
    pub glyph: char,
    pub expected: Expected,
}

/// The characters of a text. What five units cannot say stands as what is sent for it.
pub fn published(text: &str, row: FiguresRow) -> Vec<Theirs> {
    let mut machine = ShiftMachine::new(row, false);
    let mut all: Vec<Theirs> = Vec::new();
    for code in encode_lossy(text, row, EncodeOptions::default(), '-') {
        let figures = machine.shift() == Shift::Figures;
        let one = match machine.receive(code) {
            Symbol::Print(glyph) => Theirs {
                glyph,
                expected: Expected {
                    codes: vec![code],
                    figures,
                },
            },
            Symbol::Space | Symbol::CarriageReturn | Symbol::LineFeed => space(figures),
            _ => continue,
        };
        let again = one.glyph == ' ' && all.last().is_none_or(|last| last.glyph == ' ');
        if !again {
            all.push(one);
        }
    }
    all
}

fn space(figures: bool) -> Theirs {
    Theirs {
        glyph: ' ',
        expected: Expected {
            codes: vec![Code::SPACE, Code::CARRIAGE_RETURN, Code::LINE_FEED],
            figures,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layout_and_case_do_not_count() {
        let glyphs = |text: &str| -> String {
            published(text, FiguresRow::Ita2)
                .iter()
                .map(|t| t.glyph)
                .collect()
        };
        assert_eq!(glyphs("\n The  net:\r\n\r\n3595 kHz"), "THE NET: 3595 KHZ");
        let all = published("A 5", FiguresRow::Ita2);
        let figures: Vec<bool> = all.iter().map(|t| t.expected.figures).collect();
        assert_eq!(figures, [false, false, true]);
        assert_eq!(all[1].expected.codes.len(), 3);
    }
}
