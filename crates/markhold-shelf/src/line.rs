//! From characters to lines, the unit in which copy is kept and searched.

use super::details::Entry;
use markhold_code::{Carriage, Step};
use markhold_event::Character;

/// Printed characters after which a line is closed: some senders never end one. No page
/// printer prints longer lines; 72 to 86 are usual (common practice).
const LONGEST: usize = 120;

/// Characters of any kind after which a line is closed: a sender may idle on shift
/// characters for hours.
const MOST: usize = 1_000;

/// Readings in a row that are more likely noise: longer than a fade in which a character may
/// yet be told by another copy, 8 s of the fastest sender.
const MOST_UNLIKELY: usize = 128;

/// A line of copy.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct Line {
    /// Counts the lines of a signal from 0.
    pub(super) number: u32,
    /// What is printed.
    pub(super) text: String,
    /// Everything received, line ends and shifts among it, and readings that are more likely
    /// noise; never without a character once kept.
    pub(super) entries: Vec<Entry>,
    /// How many of them are characters.
    pub(super) count: usize,
    /// How many of the characters are doubtful.
    pub(super) doubtful: u32,
    /// How many of them language made others, or would have.
    pub(super) changed: u32,
    /// Nothing more will be added.
    pub(super) closed: bool,
}

impl Line {
    /// The decided characters.
    pub(super) fn characters(&self) -> impl DoubleEndedIterator<Item = &Character> {
        self.entries.iter().filter_map(|entry| match entry {
            Entry::Decided(character) => Some(character),
            Entry::Unlikely(_) => None,
        })
    }
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
        self.line.entries.push(Entry::Decided(character.clone()));
        self.line.count += 1;
        self.changed = true;
        let full = self.printed == LONGEST || self.line.count == MOST;
        if step == Step::NewLine || full {
            closed.extend(self.close());
        }
    }

    /// Takes a reading that is more likely noise. It stands with the character that follows;
    /// of many in a row, as noise after a signal makes them, the latest.
    pub(super) fn take_unlikely(&mut self, character: &Character) {
        let entries = &mut self.line.entries;
        let unlikely = |entry: &&Entry| matches!(entry, Entry::Unlikely(_));
        let in_a_row = entries.iter().rev().take_while(unlikely).count();
        if in_a_row == MOST_UNLIKELY {
            entries.remove(entries.len() - in_a_row);
        }
        entries.push(Entry::Unlikely(character.clone()));
        self.changed = self.line.count > 0;
    }

    /// The line that is not closed yet, if it changed since this was last asked.
    pub(super) fn changed(&mut self) -> Option<Line> {
        std::mem::take(&mut self.changed).then(|| self.line.clone())
    }

    /// Closes the last line.
    pub(super) fn close(&mut self) -> Option<Line> {
        if self.line.count == 0 {
            return None;
        }
        let next = Line {
            number: self.line.number + 1,
            ..Line::default()
        };
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
            .flat_map(|l| l.characters().filter_map(|c| c.symbol.text()))
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
    fn unlikely_readings_stand_in_the_line_and_are_no_characters_of_it() {
        let mut maker = LineMaker::default();
        let mut closed = Vec::new();
        let all = characters(1, &"E".repeat(2 * MOST_UNLIKELY));
        all.iter().for_each(|c| maker.take_unlikely(c));
        assert_eq!((maker.changed(), maker.close()), (None, None));
        maker.take(&characters(1, "A")[0], &mut closed);
        maker.take_unlikely(&all[0]);
        let line = maker.close().unwrap();
        assert_eq!((line.text.as_str(), line.count, line.number), ("A", 1, 0));
        assert_eq!(line.entries.len(), MOST_UNLIKELY + 2);
        assert_eq!(line.characters().count(), 1);
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
