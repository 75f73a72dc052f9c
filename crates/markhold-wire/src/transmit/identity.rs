//! The station's call, and when it is to be sent.

/// Letters, figures and strokes of a call.
const LONGEST: usize = 16;

/// A line of 69 characters at 45.45 baud takes 12 s, a word and the call less than 5.
const LINE_S: f64 = 15.0;
const WORD_S: f64 = 5.0;

/// Whether this can be a call: letters, figures and `/`, at least one letter and one figure
/// (ITU Radio Regulations, Article 19, from memory).
pub fn is_call(call: &str) -> bool {
    let of_call = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '/';
    (3..=LONGEST).contains(&call.len())
        && call.chars().all(of_call)
        && call.contains(|c: char| c.is_ascii_uppercase())
        && call.contains(|c: char| c.is_ascii_digit())
}

/// Watches the text for the call, and says when it must be sent.
#[derive(Clone, Debug)]
pub struct Identity {
    // Configured.
    call: String,
    every_s: f64,
    // State.
    word: String,
    /// When the call was sent last, s of the over.
    at_s: f64,
    /// Whether the line that is being sent has it.
    in_line: bool,
    /// That line has ended, and no other has begun.
    line_over: bool,
}

impl Identity {
    /// For this call, to be sent at least every so many seconds and at the end.
    pub fn new(call: &str, every_s: f64) -> Self {
        Identity {
            call: call.to_string(),
            every_s,
            word: String::new(),
            at_s: 0.0,
            in_line: false,
            line_over: false,
        }
    }

    /// The words that identify: `DE Q1ABC`.
    pub fn words(&self) -> String {
        format!("DE {}", self.call)
    }

    /// A character of the text is sent.
    pub fn sent(&mut self, c: char, at_s: f64) {
        if c.is_ascii_alphanumeric() || c == '/' {
            // The first of another line.
            if std::mem::take(&mut self.line_over) {
                self.in_line = false;
            }
            // No longer than a call can be: a word without end is none.
            if self.word.len() <= LONGEST {
                self.word.push(c.to_ascii_uppercase());
            }
            return;
        }
        self.end_word(at_s);
        self.line_over |= c == '\n';
    }

    /// The call is due: before a line somewhat early, so that none is broken if that can be;
    /// otherwise before a word, so that its time is kept.
    pub fn is_due(&self, before_line: bool, at_s: f64) -> bool {
        let early_s = if before_line { LINE_S } else { WORD_S };
        at_s - self.at_s >= self.every_s - early_s
    }

    /// The text ends: whether it ended with the call, in its last line.
    pub fn ended(&mut self, at_s: f64) -> bool {
        self.end_word(at_s);
        self.in_line
    }

    fn end_word(&mut self, at_s: f64) {
        let word = std::mem::take(&mut self.word);
        if word == self.call {
            self.at_s = at_s;
            self.in_line = true;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(identity: &mut Identity, text: &str, at_s: f64) {
        text.chars().for_each(|c| identity.sent(c, at_s));
    }

    #[test]
    fn calls() {
        for call in ["Q1ABC", "Q1ABC/P", "Q12A"] {
            assert!(is_call(call), "{call}");
        }
        for call in [
            "",
            "Q1",
            "QABC",
            "123",
            "q1abc",
            "Q1 ABC",
            "Q1ABCQ1ABCQ1ABCQ1",
        ] {
            assert!(!is_call(call), "{call}");
        }
    }

    #[test]
    fn the_call_is_found_as_a_word_only() {
        let ends = |text: &str| {
            let mut identity = Identity::new("Q1ABC", 600.0);
            sent(&mut identity, text, 1.0);
            identity.ended(1.0)
        };
        assert!(ends("CQ DE Q1ABC K") && ends("q1abc") && ends("DE Q1ABC\r\n"));
        assert!(!ends("Q1ABCD") && !ends("XQ1ABC") && !ends("Q1ABC/P") && !ends("NO CALL"));
        assert!(!ends("DE Q1ABC\nMORE OF IT"));
    }

    #[test]
    fn it_is_due_after_its_time() {
        let mut identity = Identity::new("Q1ABC", 600.0);
        assert!(!identity.is_due(false, 594.0) && identity.is_due(false, 595.0));
        assert!(!identity.is_due(true, 584.0) && identity.is_due(true, 585.0));
        sent(&mut identity, "DE Q1ABC ", 590.0);
        assert!(!identity.is_due(false, 1184.0) && identity.is_due(false, 1185.0));
        assert_eq!(identity.words(), "DE Q1ABC");
    }
}
