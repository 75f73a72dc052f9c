//! Copy to a page printer, as it is decided, or as early as patience has it.

use super::output::{About, End, Output};
use crate::machine::{Outfit, Outlet};
use crate::outcome::{Outcome, say};
use markhold_code::Symbol;
use markhold_page::{Copied, Discipline, Ordered};
use markhold_receive::event::{Character, Event};
use markhold_station::machine::play::{Readings, Setup};
use std::io;

/// Feeds a machine.
pub struct ToMachine {
    // State.
    /// `None` after it was closed.
    outlet: Option<Outlet>,
    readings: Readings<Character>,
    discipline: Discipline,
    orders: Vec<Ordered>,
    /// When the sound began, s of the machine's time.
    begin_s: f64,
    now_s: f64,
}

impl ToMachine {
    pub fn new(name: &str, setup: &Setup, outfit: &Outfit) -> anyhow::Result<Self> {
        Ok(ToMachine {
            outlet: Some(Outlet::open(name, setup, outfit)?),
            readings: Readings::new(setup.patience_s),
            discipline: Discipline::new(&setup.machine)?,
            orders: Vec::new(),
            begin_s: 0.0,
            now_s: 0.0,
        })
    }

    /// Gives what is ordered to the machine.
    fn give(&mut self) {
        if let Some(outlet) = &mut self.outlet {
            outlet.give(&self.orders);
        }
        self.orders.clear();
    }
}

/// A character that is given at `now_s`: the machine's time is that of arrival.
fn copied(character: &Character, now_s: f64) -> Copied {
    Copied {
        symbol: character.symbol,
        at_s: now_s,
        probability: character.probability,
        doubtful: character.doubt.is_some(),
    }
}

impl Output for ToMachine {
    fn begin(&mut self, _about: &About) -> io::Result<()> {
        // Time begins anew with every file, and goes on for the machine.
        self.begin_s = self.now_s;
        Ok(())
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        let (discipline, orders, now_s) = (&mut self.discipline, &mut self.orders, self.now_s);
        let sound_s = now_s - self.begin_s;
        let give = &mut |character: Character| discipline.take(&copied(&character, now_s), orders);
        match event {
            Event::Early(early) => {
                self.readings
                    .early(early.clone(), early.start_s, sound_s, give);
            }
            Event::Character(last) => self.readings.last(last.clone(), last.start_s, give),
            // What another signal sends begins at the margin.
            Event::Ended(_) => {
                self.readings.end();
                discipline.take(&Copied::sure(Symbol::CarriageReturn, now_s), orders);
            }
            Event::Found(_) => {}
        }
        Ok(())
    }

    fn at(&mut self, sound_s: f64) -> io::Result<()> {
        self.now_s = self.begin_s + sound_s;
        let (discipline, orders, now_s) = (&mut self.discipline, &mut self.orders, self.now_s);
        let give = &mut |character: Character| discipline.take(&copied(&character, now_s), orders);
        self.readings.pass(sound_s, give);
        self.discipline.pass(now_s, &mut self.orders);
        self.give();
        Ok(())
    }

    fn end(&mut self, _end: &End) -> io::Result<()> {
        self.readings.end();
        self.discipline.finish(&mut self.orders);
        self.give();
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.give();
        Ok(())
    }

    fn close(&mut self) -> anyhow::Result<Outcome> {
        let unlike = self.readings.unlike();
        if unlike != Default::default() {
            say(&format!(
                "sent early and read otherwise later: {} characters; not confirmed: {}; missed: {}",
                unlike.changed, unlike.unconfirmed, unlike.missed
            ));
        }
        let left = self.discipline.left();
        if left.garbled > 0 {
            say(&format!(
                "not printed, as garble ran: {} characters",
                left.garbled
            ));
        }
        self.outlet.take().map_or(Ok(Outcome::Done), Outlet::close)
    }
}
