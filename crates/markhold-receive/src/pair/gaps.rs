//! Gaps: what stands between a character and the one before it, across windows too.

use super::tones::Grid;
use super::window::WindowReading;
use crate::characters::framing::LinePriors;
use crate::characters::reading::Reading;
use crate::senders::stops::StopLearner;

/// The latest character that was given out, and what is known of what follows it.
pub(super) struct Gaps {
    // state
    stops: StopLearner,
    /// The latest character and when it began, s.
    last: Option<(f64, Reading)>,
    /// The greatest probability that the line was off since then.
    off: f32,
}

impl Gaps {
    /// Before the first character; `steps` grid points to the element.
    pub(super) fn new(steps: usize) -> Self {
        Self {
            stops: StopLearner::new(steps),
            last: None,
            off: 1.0,
        }
    }

    /// Before the first character once more, knowing the sender's stops.
    pub(super) fn again(self) -> Self {
        Self {
            last: None,
            off: 1.0,
            ..self
        }
    }

    /// When the latest character began, s; before all time if there is none.
    pub(super) fn last_start_s(&self) -> f64 {
        self.last.as_ref().map_or(f64::NEG_INFINITY, |last| last.0)
    }

    /// Length of the stop element, units, if characters follow each other at one pace.
    pub(super) fn stop_units(&self) -> Option<f64> {
        self.stops.units()
    }

    /// By how much the gaps before and after a window's reading differ from this sender's.
    pub(super) fn misplaced(&self, grid: &Grid, readings: &[Reading], k: usize) -> [f32; 2] {
        let before = match k {
            0 => self.last_on(grid),
            k => Some(readings[k - 1].clone()),
        };
        let before = before.map_or(0.0, |b| self.stops.misplaced(&b, &readings[k]));
        let after = readings.get(k + 1);
        let after = after.map_or(0.0, |a| self.stops.misplaced(&readings[k], a));
        [before, after]
    }

    /// The greatest probability that the line was off since the character before a window's
    /// reading; `since_s` is up to where windows were noted.
    pub(super) fn off_before(
        &self,
        grid: &Grid,
        reading: &WindowReading,
        k: usize,
        since_s: f64,
    ) -> f32 {
        let readings = &reading.readings;
        let begin = readings[k].start;
        match k {
            0 => self
                .off
                .max(off_within(grid, reading, (0.0, begin), since_s)),
            k => off_within(grid, reading, (readings[k - 1].start, begin), since_s),
        }
    }

    /// Notes whether the line was off since the latest character, in the part of a window that
    /// is new.
    pub(super) fn note_off(
        &mut self,
        grid: &Grid,
        reading: &WindowReading,
        (since_s, until_s): (f64, f64),
    ) {
        let end = (until_s - grid.begin_s) / grid.step_s;
        let last = (self.last_start_s() - grid.begin_s) / grid.step_s;
        let off = off_within(grid, reading, (last, end), since_s);
        self.off = match self.last_start_s() >= since_s {
            true => off,
            false => self.off.max(off),
        };
    }

    /// Takes the next character; what is then known of how the line goes on, if there was one
    /// before it.
    pub(super) fn take(
        &mut self,
        grid: &Grid,
        start_s: f64,
        reading: &Reading,
    ) -> Option<LinePriors> {
        let last = self.last_on(grid);
        self.last = Some((start_s, reading.clone()));
        let last = last?;
        self.stops.learn(&last, reading);
        Some(self.stops.priors())
    }

    /// The latest character on the grid of a window.
    fn last_on(&self, grid: &Grid) -> Option<Reading> {
        let (last_s, last) = self.last.as_ref()?;
        Some(Reading {
            start: (last_s - grid.begin_s) / grid.step_s,
            ..last.clone()
        })
    }
}

/// The greatest probability that the line was off from one grid point to another, after
/// `since_s`: not while a character is sent.
fn off_within(grid: &Grid, reading: &WindowReading, (from, to): (f64, f64), since_s: f64) -> f32 {
    let new = (since_s - grid.begin_s) / grid.step_s;
    let place = |at: f64| (at.max(0.0) as usize).min(reading.framed.off.len());
    let (from, to) = (place(from.max(new)), place(to));
    let off = reading.framed.off[from.min(to)..to].iter();
    off.fold(0.0, |most, off| most.max(*off))
}
