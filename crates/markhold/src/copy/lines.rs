//! The text of several signals, line by line.
//!
//! A line is held until it is complete, so that signals never mix within a line. A heading
//! stands wherever the text of another signal begins.

use super::marker::{Marker, Marking};
use super::output::{About, End, Output};
use crate::words;
use jiff::civil::DateTime;
use markhold_code::{Carriage, Step};
use markhold_event::{Character, Event, Signal, SignalId};
use std::collections::BTreeMap;
use std::io::{self, Write};

/// Characters after which a line is printed unfinished: some senders never end a line,
/// and their text should not be held for hours. No page printer prints longer ones; 72 to
/// 86 are usual (common practice).
const LONGEST: usize = 120;

struct Line {
    heading: String,
    text: String,
    characters: usize,
    marking: Marking,
    carriage: Carriage,
}

/// Prints whole lines under headings.
pub struct Lines<W> {
    // Configured.
    out: W,
    marker: Marker,
    // State.
    /// What the recorder's clock showed at the begin, where the file says so.
    clock: Option<DateTime>,
    lines: BTreeMap<SignalId, Line>,
    /// Whose text stands last on the output.
    last: Option<SignalId>,
}

impl<W: Write> Lines<W> {
    pub fn new(out: W, marker: Marker) -> Self {
        Lines {
            out,
            marker,
            clock: None,
            lines: BTreeMap::new(),
            last: None,
        }
    }

    fn found(&mut self, signal: &Signal) {
        let heading = format!(
            "== signal {}, from {}{}: {} ==",
            signal.id.0,
            words::time(signal.begin_s),
            words::clock(self.clock, signal.begin_s),
            words::pair(signal)
        );
        self.line(signal.id).heading = heading;
    }

    fn line(&mut self, id: SignalId) -> &mut Line {
        let marker = self.marker;
        self.lines.entry(id).or_insert_with(|| Line {
            heading: format!("== signal {} ==", id.0),
            text: String::new(),
            characters: 0,
            marking: Marking::new(marker),
            carriage: Carriage::default(),
        })
    }

    fn character(&mut self, character: &Character) -> io::Result<()> {
        let id = character.signal;
        let step = self.line(id).carriage.step(character.symbol);
        if let Step::NewLine | Step::NewLinePrint(_) = step {
            self.print(id)?;
        }
        if let Step::Print(c) | Step::NewLinePrint(c) = step {
            let line = self.line(id);
            line.marking.push(&mut line.text, c, character.into());
            line.characters += 1;
            if line.characters == LONGEST {
                self.print(id)?;
            }
        }
        Ok(())
    }

    /// Prints the line held for a signal, empty or not.
    fn print(&mut self, id: SignalId) -> io::Result<()> {
        let heading = (self.last != Some(id)).then(|| self.line(id).heading.clone());
        if let Some(heading) = heading {
            writeln!(self.out, "{heading}")?;
        }
        self.last = Some(id);
        let line = self.line(id);
        line.marking.close(&mut line.text);
        line.characters = 0;
        let text = std::mem::take(&mut line.text);
        writeln!(self.out, "{text}")
    }

    /// Prints what is left of a signal and forgets it.
    fn close(&mut self, id: SignalId) -> io::Result<()> {
        if self.line(id).characters > 0 {
            self.print(id)?;
        }
        self.lines.remove(&id);
        Ok(())
    }
}

impl<W: Write> Output for Lines<W> {
    fn begin(&mut self, about: &About) -> io::Result<()> {
        self.clock = about.clock;
        self.last = None;
        Ok(())
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        match event {
            Event::Found(signal) => self.found(signal),
            Event::Early(_) | Event::Unlikely(_) => {}
            Event::Character(character) => self.character(character)?,
            Event::Ended(signal) => self.close(signal.id)?,
        }
        Ok(())
    }

    fn end(&mut self, _end: &End) -> io::Result<()> {
        let open: Vec<SignalId> = self.lines.keys().copied().collect();
        open.into_iter().try_for_each(|id| self.close(id))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{characters, ended, found};
    use super::*;

    fn printed(events: &[Event]) -> String {
        let mut out = Vec::new();
        let mut lines = Lines::new(&mut out, Marker::Brackets);
        events.iter().for_each(|event| lines.event(event).unwrap());
        String::from_utf8(out).unwrap()
    }

    const PAIR: &str = "from 0:03.3: mark 2125.0 Hz, space 2295.2 Hz (shift 170), 45.45 baud ==";

    #[test]
    fn lines_of_two_signals_stay_whole() {
        let mut events = vec![found(1), found(2)];
        let (one, two) = (
            characters(1, "AAAA\r\nA?A\r\n"),
            characters(2, "BB\r\nBBBB"),
        );
        for (one, two) in one.into_iter().zip(two) {
            events.extend([one, two]);
        }
        events.extend([ended(1), ended(2)]);
        let [one, two] = [1, 2].map(|id| format!("== signal {id}, {PAIR}"));
        let expected = format!("{two}\nBB\n{one}\nAAAA\n[A]A\n{two}\nBBBB\n");
        assert_eq!(printed(&events), expected);
    }

    #[test]
    fn an_endless_line_is_broken() {
        let events = characters(1, &"RY".repeat(LONGEST));
        assert_eq!(printed(&events).lines().count(), 3);
    }
}
