//! Copy to a page printer, as it is decided, or as early as patience has it.

use super::output::{About, End, Output};
use crate::machine::{Outfit, Outlet};
use crate::outcome::{Outcome, say};
use markhold_event::Event;
use markhold_page::Ordered;
use markhold_station::paper::Feed;
use markhold_wire::play::Setup;
use std::io;

/// Feeds a machine.
pub struct ToMachine {
    // State.
    /// `None` after it was closed.
    outlet: Option<Outlet>,
    feed: Feed,
    orders: Vec<Ordered>,
    /// When the sound began, s of the machine's time.
    begin_s: f64,
    now_s: f64,
}

impl ToMachine {
    pub fn new(name: &str, setup: &Setup, outfit: &Outfit) -> anyhow::Result<Self> {
        Ok(ToMachine {
            outlet: Some(Outlet::open(name, setup, outfit)?),
            feed: Feed::new(setup)?,
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

impl Output for ToMachine {
    fn begin(&mut self, _about: &About) -> io::Result<()> {
        // Time begins anew with every file, and goes on for the machine.
        self.begin_s = self.now_s;
        Ok(())
    }

    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.feed.event(event, false, self.now_s, &mut self.orders);
        Ok(())
    }

    fn at(&mut self, sound_s: f64) -> io::Result<()> {
        self.now_s = self.begin_s + sound_s;
        self.feed.pass(self.now_s, &mut self.orders);
        self.give();
        Ok(())
    }

    fn end(&mut self, _end: &End) -> io::Result<()> {
        self.feed.finish(&mut self.orders);
        self.give();
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.give();
        Ok(())
    }

    fn close(&mut self) -> anyhow::Result<Outcome> {
        let unlike = self.feed.unlike();
        if unlike != Default::default() {
            say(&format!(
                "sent early and read otherwise later: {} characters; not confirmed: {}; missed: {}",
                unlike.changed, unlike.unconfirmed, unlike.missed
            ));
        }
        let left = self.feed.left();
        if left.garbled > 0 {
            say(&format!(
                "not printed, as garble ran: {} characters",
                left.garbled
            ));
        }
        self.outlet.take().map_or(Ok(Outcome::Done), Outlet::close)
    }
}
