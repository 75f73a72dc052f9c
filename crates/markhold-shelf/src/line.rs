//! From characters to lines, the unit in which copy is kept and searched.

use markhold_code::{Carriage, Step};
use markhold_event::Character;

/// Printed characters after which a line is closed: some senders never end one. No page
/// printer prints longer lines; 72 to 86 are usual (common practice).
const LONGEST: usize = 120;

/// Characters of any kind after which a line is closed: a sender may idle on shift
/// characters for hours.
const MOST: usize = 1_000;

/// A line of copy.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct Line {
    /// Counts the lines of a signal from 0.
    pub(super) number: u32,
    /// What is printed.
    pub(super) text: String,
    /// Everything received, line ends and shifts among it; never empty once kept.
    pub(super) characters: Vec<Character>,
    /// How many of the characters are doubtful.
    pub(super) doubtful: u32,
    /// How many of them language made others, or would have.
    pub(super) changed: u32,
    /// Nothing more will be added.
    pub(super) closed: bool,
}

/// Whether language made it another character than the signal alone, or would have.
pub(super) fn is_changed(character: &Character) -> bool {
    character.witnesses.is_some_and(|both| both.differ())
}

/// Puts the characters of one signal into lines.
#[derive(Debug, Default)]
pub(super) struct LineMaker {
    carriage: Carriage,
    line: Line,
    printed: usize,
    changed: bool,
}

impl LineMaker {
    /// Takes a character; hands over the lines that it closes.
    pub(super) fn take(&mut self, character: &Character, closed: &mut Vec<Line>) {
        let step = self.carriage.step(character.symbol);
        if let Step::NewLinePrint(_) = step {
            closed.extend(self.close());
        }
        if let Step::Print(c) | Step::NewLinePrint(c) = step {
            self.line.text.push(c);
            self.printed += 1;
        }
        self.line.doubtful += u32::from(character.doubt.is_some());
        self.line.changed += u32::from(is_changed(character));
        self.line.characters.push(character.clone());
        self.changed = true;
        let full = self.printed == LONGEST || self.line.characters.len() == MOST;
        if step == Step::NewLine || full {
            closed.extend(self.close());
        }
    }

    /// The line that is not closed yet, if it changed since this was last asked.
    pub(super) fn changed(&mut self) -> Option<Line> {
        std::mem::take(&mut self.changed).then(|| self.line.clone())
    }

    /// Closes the last line.
    pub(super) fn close(&mut self) -> Option<Line> {
        let next = Line {
            number: self.line.number + 1,
            ..Line::default()
        };
        if self.line.characters.is_empty() {
            return None;
        }
        (self.printed, self.changed) = (0, false);
        let mut line = std::mem::replace(&mut self.line, next);
        line.closed = true;
        Some(line)
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::characters;
    use super::*;

    fn lines(text: &str) -> Vec<Line> {
        let mut maker = LineMaker::default();
        let mut lines = Vec::new();
        for character in characters(1, text) {
            maker.take(&character, &mut lines);
        }
        lines.extend(maker.close());
        lines
    }

    #[test]
    fn every_character_is_in_one_line() {
        let text = "CQ CQ\r\n\r\nDE Q1ABC\rOVER\n\rK";
        let lines = lines(text);
        let texts: Vec<&str> = lines.iter().map(|l| l.text.as_str()).collect();
        assert_eq!(texts, ["CQ CQ", "", "DE Q1ABC", "OVER", "K"]);
        let all: String = lines
            .iter()
            .flat_map(|l| l.characters.iter().filter_map(|c| c.symbol.text()))
            .collect();
        assert_eq!(all, text);
        assert!(lines.iter().map(|l| l.number).eq(0..5) && lines.iter().all(|l| l.closed));
    }

    #[test]
    fn endless_lines_are_cut() {
        assert_eq!(lines(&"RY".repeat(100)).len(), 2);
        assert_eq!(lines(&"\r".repeat(MOST + 1)).len(), 2);
    }

    #[test]
    fn an_open_line_is_shown_when_it_changed() {
        let mut maker = LineMaker::default();
        let mut closed = Vec::new();
        assert_eq!(maker.changed(), None);
        maker.take(&characters(1, "A?")[0], &mut closed);
        let open = maker.changed().unwrap();
        assert_eq!(
            (open.text.as_str(), open.doubtful, open.closed),
            ("A", 1, false)
        );
        assert_eq!(maker.changed(), None);
    }
}
