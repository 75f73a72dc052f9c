//! Copy in, orders for one machine out: whose characters are printed, which reading of each,
//! and what this machine must be sent for them.

use super::{Readings, Unlike};
use markhold_code::Symbol;
use markhold_event::{Character, Event, SignalId};
use markhold_page::{Copied, Discipline, Left, MachineError, Ordered};
use markhold_wire::play::Setup;
use std::collections::HashMap;

/// How long the signal on paper may rest before another one's characters are printed, where
/// several are copied, s: nets pause for breath, and two signals in one line are no copy.
const REST_S: f64 = 10.0;

/// A reading of a character. Two are the same if they print the same, however sure each is.
#[derive(Clone, Debug)]
struct Reading(Character);

impl PartialEq for Reading {
    fn eq(&self, other: &Self) -> bool {
        (self.0.code, self.0.symbol) == (other.0.code, other.0.symbol)
    }
}

/// Feeds one machine. Knows no thread and no clock: time is what it is told, s from anywhere,
/// and never goes back.
#[derive(Clone, Debug)]
pub struct Feed {
    // Configured.
    patience_s: f64,
    // State.
    /// Readings of each signal that is copied.
    readings: HashMap<SignalId, Readings<Reading>>,
    /// What readings that are forgotten turned out to be.
    unlike: Unlike,
    discipline: Discipline,
    /// Whose characters were printed last.
    printed: Option<SignalId>,
    /// The signal that has the paper, and when it was heard last, s.
    heard: Option<(SignalId, f64)>,
}

impl Feed {
    /// Feeds this machine with the patience of its setup.
    ///
    /// # Errors
    ///
    /// As [`markhold_page::Machine::check`].
    pub fn new(setup: &Setup) -> Result<Self, MachineError> {
        Ok(Feed {
            patience_s: setup.patience_s,
            readings: HashMap::new(),
            unlike: Unlike::default(),
            discipline: Discipline::new(&setup.machine)?,
            printed: None,
            heard: None,
        })
    }

    /// Waits so long for better readings from here on, s; what waits already keeps its time.
    pub fn set_patience(&mut self, patience_s: f64) {
        self.patience_s = patience_s;
        let all = self.readings.values_mut();
        all.for_each(|readings| readings.set_patience(patience_s));
    }

    /// What the receiver told at `now_s`. Where `one` is set, a signal keeps the paper until
    /// it has rested for ten seconds; else whoever is copied is printed.
    pub fn event(&mut self, event: &Event, one: bool, now_s: f64, out: &mut Vec<Ordered>) {
        match event {
            Event::Early(character) | Event::Character(character) => {
                if one && !self.has_paper(character.signal, now_s) {
                    return;
                }
                let last = matches!(event, Event::Character(_));
                self.character(character, last, now_s, out);
            }
            Event::Ended(signal) => self.ended(signal.id, now_s, out),
            Event::Found(_) | Event::Unlikely(_) => {}
        }
    }

    /// A line was sent from here: it stands by itself between what is received.
    pub fn sent(&mut self, line: &str, now_s: f64, out: &mut Vec<Ordered>) {
        if self.printed.take().is_some() {
            self.begin_line(now_s, out);
        }
        for copied in Copied::of_text(line, now_s) {
            self.discipline.take(&copied, out);
        }
        self.begin_line(now_s, out);
    }

    /// Time has come to `now_s`; to be called several times a second.
    pub fn pass(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        let mut due = Vec::new();
        for readings in self.readings.values_mut() {
            readings.pass(now_s, &mut |reading: Reading| due.push(reading.0));
        }
        due.sort_by(|a: &Character, b| a.start_s.total_cmp(&b.start_s));
        due.iter().for_each(|c| self.print(c, now_s, out));
        self.discipline.pass(now_s, out);
    }

    /// One sound ended: what comes next is another one, whose times begin anew.
    pub fn end_sound(&mut self) {
        let ended = std::mem::take(&mut self.readings);
        ended
            .into_values()
            .for_each(|readings| self.forget(readings));
        self.heard = None;
    }

    /// Nothing more comes: what is held back is given, the line ended, the motor stopped.
    pub fn finish(&mut self, out: &mut Vec<Ordered>) {
        self.end_sound();
        self.discipline.finish(out);
    }

    /// What was printed and turned out otherwise, so far.
    pub fn unlike(&self) -> Unlike {
        let now = self.readings.values().map(Readings::unlike);
        now.fold(self.unlike, Unlike::plus)
    }

    /// What line discipline left out, so far.
    pub fn left(&self) -> Left {
        self.discipline.left()
    }

    fn has_paper(&mut self, signal: SignalId, now_s: f64) -> bool {
        match self.heard {
            Some((other, heard_s)) if other != signal && now_s - heard_s < REST_S => false,
            _ => {
                self.heard = Some((signal, now_s));
                true
            }
        }
    }

    fn character(&mut self, character: &Character, last: bool, now_s: f64, out: &mut Vec<Ordered>) {
        let patience_s = self.patience_s;
        let readings = self.readings.entry(character.signal);
        let readings = readings.or_insert_with(|| Readings::new(patience_s));
        let mut given = Vec::new();
        let give = &mut |reading: Reading| given.push(reading.0);
        let reading = Reading(character.clone());
        match last {
            true => readings.last(reading, character.id, give),
            false => readings.early(reading, character.id, now_s, give),
        }
        given.iter().for_each(|c| self.print(c, now_s, out));
    }

    /// What another signal sends begins at the margin.
    fn ended(&mut self, signal: SignalId, now_s: f64, out: &mut Vec<Ordered>) {
        if let Some(readings) = self.readings.remove(&signal) {
            self.forget(readings);
        }
        self.heard.take_if(|heard| heard.0 == signal);
        if self.printed == Some(signal) {
            self.printed = None;
            self.begin_line(now_s, out);
        }
    }

    fn forget(&mut self, mut readings: Readings<Reading>) {
        readings.end();
        self.unlike = self.unlike.plus(readings.unlike());
    }

    fn begin_line(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        let margin = Copied::sure(Symbol::CarriageReturn, now_s);
        self.discipline.take(&margin, out);
    }

    /// A character that is given at `now_s`: the machine's time is that of arrival.
    fn print(&mut self, character: &Character, now_s: f64, out: &mut Vec<Ordered>) {
        if self
            .printed
            .is_some_and(|before| before != character.signal)
        {
            self.begin_line(now_s, out);
        }
        self.printed = Some(character.signal);
        let copied = Copied {
            symbol: character.symbol,
            at_s: now_s,
            probability: character.probability,
            doubtful: character.doubt.is_some(),
        };
        self.discipline.take(&copied, out);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{character, signal};
    use super::*;
    use markhold_page::{Machine, print, render::text::text};

    fn setup(patience_s: f64) -> Setup {
        let machine = Machine {
            motor: false,
            ..Machine::default()
        };
        Setup {
            patience_s,
            ..Setup::of(machine)
        }
    }

    /// What stands on paper after these events, each at its time.
    fn paper(setup: &Setup, one: bool, events: &[(f64, Event)]) -> (String, Feed) {
        let mut feed = Feed::new(setup).expect("a machine");
        let mut orders = Vec::new();
        for (now_s, event) in events {
            feed.pass(*now_s, &mut orders);
            feed.event(event, one, *now_s, &mut orders);
        }
        feed.finish(&mut orders);
        let page = print(&setup.machine, &orders);
        (text(&page).trim().to_string(), feed)
    }

    fn early(signal: u32, start_s: f64, c: char) -> (f64, Event) {
        (start_s + 0.2, Event::Early(character(signal, start_s, c)))
    }

    fn last(signal: u32, start_s: f64, c: char) -> (f64, Event) {
        (
            start_s + 3.0,
            Event::Character(character(signal, start_s, c)),
        )
    }

    #[test]
    fn patience_decides_which_reading_is_printed() {
        // Another probability is no other reading.
        let surer = |mut event: (f64, Event)| {
            if let Event::Character(character) = &mut event.1 {
                character.probability = 0.999;
            }
            event
        };
        let events = [
            early(1, 0.0, 'X'),
            early(1, 0.2, 'B'),
            last(1, 0.0, 'A'),
            surer(last(1, 0.2, 'B')),
        ];
        assert_eq!(paper(&setup(8.0), false, &events).0, "AB");
        let (hurried, feed) = paper(&setup(0.0), false, &events);
        assert_eq!((hurried.as_str(), feed.unlike().changed), ("XB", 1));
    }

    #[test]
    fn patience_may_change_while_it_prints() {
        let mut feed = Feed::new(&setup(8.0)).expect("a machine");
        let mut orders = Vec::new();
        feed.event(&early(1, 0.0, 'A').1, false, 0.2, &mut orders);
        feed.set_patience(0.0);
        feed.event(&early(1, 0.2, 'B').1, false, 0.4, &mut orders);
        // A keeps its time and B waits for it: characters do not overtake each other.
        assert!(orders.is_empty());
        feed.pass(8.3, &mut orders);
        let page = print(&Machine::default(), &orders);
        assert_eq!(text(&page).trim(), "AB");
    }

    /// The late final readings of one signal come after the first early ones of the next.
    #[test]
    fn the_next_signal_begins_at_the_margin_and_nothing_is_lost() {
        let events = [
            early(1, 0.0, 'A'),
            early(2, 1.0, 'B'),
            last(1, 0.0, 'A'),
            (3.1, Event::Ended(signal(1))),
            last(2, 1.0, 'B'),
        ];
        assert_eq!(paper(&setup(8.0), false, &events).0, "A\nB");
        assert_eq!(paper(&setup(0.0), false, &events).0, "A\nB");
    }

    #[test]
    fn of_several_signals_one_has_the_paper() {
        let events = [
            last(1, 0.0, 'A'),
            last(2, 0.1, 'X'),
            last(1, 0.2, 'B'),
            last(2, 10.0, 'Y'),
            // The first has rested for ten seconds.
            last(2, 10.3, 'Z'),
            last(1, 10.5, 'C'),
        ];
        assert_eq!(paper(&setup(8.0), true, &events).0, "AB\nZ");
        let all = paper(&setup(8.0), false, &events).0;
        assert_eq!(all, "A\nX\nB\nYZ\nC");
    }

    #[test]
    fn what_is_sent_stands_in_lines_of_its_own() {
        let mut feed = Feed::new(&setup(0.0)).unwrap();
        let mut orders = Vec::new();
        let mut hear = |feed: &mut Feed, text: &str, from_s: f64| {
            for (k, c) in text.chars().enumerate() {
                let at_s = from_s + 0.165 * k as f64;
                let event = Event::Character(character(1, at_s, c));
                feed.event(&event, false, at_s, &mut orders);
            }
        };
        hear(&mut feed, "BTU K", 0.0);
        let mut rest = Vec::new();
        feed.sent("R R 73", 10.0, &mut rest);
        orders.extend(rest);
        let mut last = Vec::new();
        for (k, c) in "TNX".chars().enumerate() {
            let at_s = 20.0 + 0.165 * k as f64;
            feed.event(
                &Event::Character(character(1, at_s, c)),
                false,
                at_s,
                &mut last,
            );
        }
        feed.finish(&mut last);
        orders.extend(last);
        let page = print(&setup(0.0).machine, &orders);
        assert_eq!(text(&page).trim(), "BTU K\nR R 73\nTNX");
    }
}
