//! Counts what was copied, to tell it.

use super::output::End;
use crate::words;
use jiff::civil::DateTime;
use markhold_event::{Event, SignalId};
use std::collections::BTreeMap;

/// Counts signals and characters of one file.
#[derive(Debug, Default)]
pub struct Tally {
    /// What the recorder's clock showed at the begin, where the file says so.
    pub clock: Option<DateTime>,
    /// Signals found.
    pub signals: u64,
    /// Characters copied.
    pub characters: u64,
    /// Characters and doubtful ones of each signal that has not ended.
    open: BTreeMap<SignalId, (u64, u64)>,
}

impl Tally {
    /// Counts an event; gives a line to say about it, where there is one.
    pub fn count(&mut self, event: &Event) -> Option<String> {
        match event {
            Event::Found(signal) => {
                self.signals += 1;
                let clock = words::clock(self.clock, signal.begin_s);
                Some(format!("{}{clock}", words::found(signal)))
            }
            Event::Early(_) | Event::Unlikely(_) => None,
            Event::Character(character) => {
                self.characters += 1;
                let (characters, doubtful) = self.open.entry(character.signal).or_default();
                *characters += 1;
                *doubtful += u64::from(character.doubt.is_some());
                None
            }
            Event::Ended(signal) => {
                let (characters, doubtful) = self.open.remove(&signal.id).unwrap_or_default();
                Some(words::ended(signal, characters, doubtful))
            }
        }
    }

    /// What is known at the end of a sound of this name and length, which ended well.
    pub fn end<'a>(&self, name: &'a str, length_s: f64) -> End<'a> {
        End {
            name,
            length_s,
            signals: self.signals,
            characters: self.characters,
            notices: &[],
            error: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{characters, ended, found};
    use super::*;

    #[test]
    fn the_clock_is_told_where_it_is_known() {
        let mut tally = Tally {
            clock: "2026-03-21T19:30:00".parse().ok(),
            ..Tally::default()
        };
        let said = tally.count(&found(1)).expect("a line");
        assert!(said.ends_with(", 19:30:03 on the clock"), "{said}");
    }

    #[test]
    fn each_signal_by_itself() {
        let mut tally = Tally::default();
        let mut said = Vec::new();
        let events = [
            vec![found(1), found(2)],
            characters(1, "AB?CD"),
            characters(2, "E"),
            vec![ended(1), ended(2)],
        ];
        for event in events.concat() {
            said.extend(tally.count(&event));
        }
        assert_eq!((tally.signals, tally.characters), (2, 5));
        assert_eq!(said.len(), 4);
        assert!(
            said[2].contains("signal 1 ended: 4 characters (25 % doubtful)"),
            "{}",
            said[2]
        );
        assert!(
            said[3].contains("signal 2 ended: 1 characters (0 % doubtful)"),
            "{}",
            said[3]
        );
    }
}
