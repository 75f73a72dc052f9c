//! Text to codes, for sending.

use crate::encode_error::{EncodeError, Suggestion};
use crate::substitute::{needs_hyphen, substitute};
use crate::{Code, FiguresRow, Shift, Symbol, lookup};

/// What is sent for the end of a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LineEnd {
    /// Carriage return, line feed.
    #[default]
    CrLf,
    /// Two carriage returns, line feed: the second gives the carriage time to return and
    /// stands in for the first if that is lost (common practice).
    CrCrLf,
    /// As [`LineEnd::CrCrLf`], then letters shift, so that a lost shift spoils one line
    /// only (common practice).
    CrCrLfLetters,
}

/// How text is turned into codes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EncodeOptions {
    /// What is sent for the end of a line.
    pub line_end: LineEnd,
    /// Send the shift again after each space in figures, because the sender cannot know
    /// whether the receiving printer returns to letters on a space (common practice).
    /// Without it the text is right only for printers that do not.
    pub shift_again_after_space: bool,
    /// The shift that the receiving printer is in; `None` if that is not known, and the
    /// first character that depends on it is then preceded by its shift.
    pub begin: Option<Shift>,
}

impl Default for EncodeOptions {
    /// CR LF, shift sent again after spaces, receiver in letters.
    fn default() -> Self {
        Self {
            line_end: LineEnd::CrLf,
            shift_again_after_space: true,
            begin: Some(Shift::Letters),
        }
    }
}

/// Turns text into codes, inserting shifts where they are needed.
///
/// Small letters are sent as capitals. `\n` and `\r\n` are line ends; `\r` alone returns
/// the carriage without a line feed. BEL (U+0007) rings the bell and ENQ (U+0005) asks "who
/// are you", where the row has them.
///
/// # Errors
///
/// The first character that is not in the alphabet, with its place and what to do.
pub fn encode(
    text: &str,
    row: FiguresRow,
    options: EncodeOptions,
) -> Result<Vec<Code>, EncodeError> {
    let mut sender = Sender::new(row, options);
    sender.text(text, |_, _, unknown| Err(unknown))?;
    Ok(sender.codes)
}

/// As [`encode`], but nothing stops it: characters outside the alphabet are sent as what
/// reads the same (a curly quote as a straight one, `é` as `E`), or else as `replacement`.
///
/// A `replacement` that is not in the alphabet itself is sent as a space.
pub fn encode_lossy(
    text: &str,
    row: FiguresRow,
    options: EncodeOptions,
    replacement: char,
) -> Vec<Code> {
    let mut sender = Sender::new(row, options);
    let done = sender.text(text, |sender, before, unknown| {
        if needs_hyphen(before, unknown.found) {
            sender.or_space('-');
        }
        match unknown.suggestion {
            Suggestion::Write(instead) => instead.chars().for_each(|c| sender.or_space(c)),
            Suggestion::LeaveOut => sender.or_space(replacement),
        }
        Ok(())
    });
    debug_assert!(done.is_ok(), "the closure above never fails");
    sender.codes
}

/// Collects codes, knowing what the receiving printer's shift is.
struct Sender {
    // Configured.
    row: FiguresRow,
    options: EncodeOptions,
    // State. `None` = the printer may be in either shift.
    shift: Option<Shift>,
    codes: Vec<Code>,
}

impl Sender {
    fn new(row: FiguresRow, options: EncodeOptions) -> Self {
        Self {
            row,
            options,
            shift: options.begin,
            codes: Vec::new(),
        }
    }

    /// Sends the text; `otherwise` decides what happens to unknown characters, and is told
    /// what stands before them.
    fn text(
        &mut self,
        text: &str,
        mut otherwise: impl FnMut(&mut Self, Option<char>, EncodeError) -> Result<(), EncodeError>,
    ) -> Result<(), EncodeError> {
        let (mut line, mut column, mut before) = (1, 0, None);
        let mut characters = text.chars().peekable();
        while let Some(c) = characters.next() {
            column += 1;
            match c {
                '\r' if characters.peek() == Some(&'\n') => {}
                '\n' => {
                    self.line_end();
                    (line, column) = (line + 1, 0);
                }
                _ if self.character(c) => {}
                _ => otherwise(self, before, self.unknown(c, line, column))?,
            }
            before = Some(c);
        }
        Ok(())
    }

    /// Sends one character; `false` if it is not in the alphabet.
    fn character(&mut self, c: char) -> bool {
        let Some((code, shift)) = lookup(symbol_of(c), self.row) else {
            return false;
        };
        if let Some(needed) = shift.filter(|_| shift != self.shift) {
            self.send(match needed {
                Shift::Letters => Code::LETTERS,
                Shift::Figures => Code::FIGURES,
            });
        }
        self.send(code);
        true
    }

    fn or_space(&mut self, c: char) {
        if !self.character(c) {
            self.send(Code::SPACE);
        }
    }

    fn line_end(&mut self) {
        let codes: &[Code] = match self.options.line_end {
            LineEnd::CrLf => &[Code::CARRIAGE_RETURN, Code::LINE_FEED],
            LineEnd::CrCrLf => &[
                Code::CARRIAGE_RETURN,
                Code::CARRIAGE_RETURN,
                Code::LINE_FEED,
            ],
            LineEnd::CrCrLfLetters => &[
                Code::CARRIAGE_RETURN,
                Code::CARRIAGE_RETURN,
                Code::LINE_FEED,
                Code::LETTERS,
            ],
        };
        codes.iter().for_each(|&code| self.send(code));
    }

    fn send(&mut self, code: Code) {
        self.codes.push(code);
        match code {
            Code::LETTERS => self.shift = Some(Shift::Letters),
            Code::FIGURES => self.shift = Some(Shift::Figures),
            // In letters a space changes nothing on any printer.
            Code::SPACE
                if self.options.shift_again_after_space && self.shift != Some(Shift::Letters) =>
            {
                self.shift = None;
            }
            _ => {}
        }
    }

    fn unknown(&self, found: char, line: usize, column: usize) -> EncodeError {
        let other = match self.row {
            FiguresRow::Ita2 => FiguresRow::Us,
            FiguresRow::Us => FiguresRow::Ita2,
        };
        EncodeError {
            found,
            line,
            column,
            row: self.row,
            suggestion: substitute(found, self.row).map_or(Suggestion::LeaveOut, Suggestion::Write),
            other_row: lookup(symbol_of(found), other).map(|_| other),
        }
    }
}

fn symbol_of(c: char) -> Symbol {
    match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\u{7}' => Symbol::Bell,
        '\u{5}' => Symbol::WhoAreYou,
        _ => Symbol::Print(c.to_ascii_uppercase()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decode;
    use proptest::prelude::*;

    const ROWS: [FiguresRow; 2] = [FiguresRow::Ita2, FiguresRow::Us];

    fn values(text: &str, options: EncodeOptions) -> Vec<u8> {
        let codes = encode(text, FiguresRow::Ita2, options).expect("in the alphabet");
        codes.into_iter().map(Code::value).collect()
    }

    /// Worked examples W5 and W7, from the tests of a public library.
    #[test]
    fn worked_examples() {
        let options = EncodeOptions::default();
        assert_eq!(
            values("HELLO 123", options),
            [20, 1, 18, 18, 24, 4, 27, 23, 19, 1]
        );
        assert_eq!(
            values("hello 123", options),
            [20, 1, 18, 18, 24, 4, 27, 23, 19, 1]
        );
        assert_eq!(values("A1B", options), [3, 27, 23, 31, 25]);
    }

    #[test]
    fn the_shift_is_sent_again_after_a_space() {
        let again = EncodeOptions::default();
        let once = EncodeOptions {
            shift_again_after_space: false,
            ..again
        };
        assert_eq!(values("1 1", again), [27, 23, 4, 27, 23]);
        assert_eq!(values("1 1", once), [27, 23, 4, 23]);
        // A letter after a space in figures needs its shift in both cases.
        assert_eq!(values("1 A", again), [27, 23, 4, 31, 3]);
        assert_eq!(values("1 A", once), [27, 23, 4, 31, 3]);
    }

    #[test]
    fn an_unknown_shift_is_made_known() {
        let unknown = EncodeOptions {
            begin: None,
            ..EncodeOptions::default()
        };
        assert_eq!(values("A", unknown), [31, 3]);
        assert_eq!(values(" 1", unknown), [4, 27, 23]);
    }

    #[test]
    fn line_ends() {
        let with = |line_end| EncodeOptions {
            line_end,
            ..EncodeOptions::default()
        };
        assert_eq!(values("\n", with(LineEnd::CrLf)), [8, 2]);
        assert_eq!(values("\r\n", with(LineEnd::CrLf)), [8, 2]);
        assert_eq!(values("\r", with(LineEnd::CrLf)), [8]);
        assert_eq!(values("\n", with(LineEnd::CrCrLf)), [8, 8, 2]);
        assert_eq!(
            values("1\n1", with(LineEnd::CrCrLfLetters)),
            [27, 23, 8, 8, 2, 31, 27, 23]
        );
    }

    #[test]
    fn the_lossy_variant_reads_the_same() {
        let sent = |text: &str, row| {
            decode(
                &encode_lossy(text, row, EncodeOptions::default(), '?'),
                row,
                false,
            )
        };
        assert_eq!(sent("“Grüße”\t5 %", FiguresRow::Us), "\"GRUESSE\" 5 0/0");
        assert_eq!(sent("50%, 5½, a½", FiguresRow::Ita2), "50-0/0, 5-1/2, A1/2");
        assert_eq!(sent("“a”; 日", FiguresRow::Ita2), "''A'', ?");
        let spaced = encode_lossy("日", FiguresRow::Us, EncodeOptions::default(), '本');
        assert_eq!(spaced, [Code::SPACE]);
    }

    /// Characters of both rows, and line ends.
    fn sendable() -> impl Strategy<Value = String> {
        proptest::string::string_regex("[A-Z0-9 \n\u{7}\r?:!&'().,/-]{0,80}").expect("a pattern")
    }

    /// Every line end as it is received.
    fn received(text: &str) -> String {
        text.replace("\r\n", "\n").replace('\n', "\r\n")
    }

    proptest! {
        #[test]
        fn what_is_sent_is_what_is_read(text in sendable(), again: bool, lower: bool) {
            let expected = received(&text);
            let typed = if lower { text.to_ascii_lowercase() } else { text.clone() };
            let options =
                EncodeOptions { shift_again_after_space: again, ..EncodeOptions::default() };
            for row in ROWS {
                let codes = encode(&typed, row, options).expect("all in the alphabet");
                prop_assert_eq!(decode(&codes, row, false), expected.clone());
                if again {
                    prop_assert_eq!(decode(&codes, row, true), expected.clone());
                }
            }
        }

        #[test]
        fn the_lossy_variant_takes_anything(text in any::<String>(), replacement: char) {
            for row in ROWS {
                let codes = encode_lossy(&text, row, EncodeOptions::default(), replacement);
                prop_assert!(codes.len() >= text.chars().filter(|c| c.is_ascii_alphabetic()).count());
            }
        }

        #[test]
        fn the_strict_variant_agrees_with_the_lossy_one(text in any::<String>()) {
            for row in ROWS {
                let options = EncodeOptions::default();
                if let Ok(codes) = encode(&text, row, options) {
                    prop_assert_eq!(codes, encode_lossy(&text, row, options, '?'));
                }
            }
        }
    }
}
