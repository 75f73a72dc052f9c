//! The text of one signal at a time, character by character as it is decided.

use super::marker::{Marker, Marking};
use super::output::{About, End, Output};
use markhold_code::{Carriage, Step};
use markhold_event::{Character, Event};
use std::io::{self, Write};

/// Prints running text.
pub struct Running<W> {
    out: W,
    marking: Marking,
    carriage: Carriage,
}

impl<W: Write> Running<W> {
    pub fn new(out: W, marker: Marker) -> Self {
        Running {
            out,
            marking: Marking::new(marker),
            carriage: Carriage::default(),
        }
    }

    fn character(&mut self, character: &Character) -> io::Result<()> {
        let mut text = String::new();
        let (new_line, print) = match self.carriage.step(character.symbol) {
            Step::Nothing => (false, None),
            Step::NewLine => (true, None),
            Step::Print(c) => (false, Some(c)),
            Step::NewLinePrint(c) => (true, Some(c)),
        };
        if new_line {
            self.marking.close(&mut text);
            text.push('\n');
        }
        if let Some(c) = print {
            self.marking.push(&mut text, c, character.into());
        }
        self.out.write_all(text.as_bytes())
    }

    /// Ends a line that holds text, so that what follows begins at the margin.
    fn end_line(&mut self) -> io::Result<()> {
        let mut text = String::new();
        self.marking.close(&mut text);
        if self.carriage.is_away() {
            text.push('\n');
        }
        self.carriage = Carriage::default();
        self.out.write_all(text.as_bytes())
    }
}

impl<W: Write> Output for Running<W> {
    fn begin(&mut self, _about: &About) -> io::Result<()> {
        Ok(())
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        match event {
            Event::Found(_) | Event::Ended(_) => self.end_line(),
            Event::Early(_) | Event::Unlikely(_) => Ok(()),
            Event::Character(character) => self.character(character),
        }
    }

    fn end(&mut self, _end: &End) -> io::Result<()> {
        self.end_line()
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{characters, ended, found};
    use super::*;

    fn printed(events: &[Event], marker: Marker) -> String {
        let mut out = Vec::new();
        let mut running = Running::new(&mut out, marker);
        events
            .iter()
            .for_each(|event| running.event(event).unwrap());
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn signals_follow_each_other_on_their_own_lines() {
        let events = [
            vec![found(1)],
            characters(1, "CQ CQ\r\nDE"),
            vec![ended(1), found(2)],
            characters(2, "Q1ABC\r\n"),
            vec![ended(2)],
        ];
        assert_eq!(
            printed(&events.concat(), Marker::None),
            "CQ CQ\nDE\nQ1ABC\n"
        );
    }

    #[test]
    fn doubt_is_closed_before_the_line_ends() {
        let events = [characters(1, "AB?C?\r\nD?E"), vec![ended(1)]].concat();
        assert_eq!(printed(&events, Marker::Brackets), "A[BC]\n[D]E\n");
        assert_eq!(printed(&events, Marker::None), "ABC\nDE\n");
    }
}
