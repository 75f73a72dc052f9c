//! How the follower reads a window: as often as it takes, with what each reading showed.

use super::{Follower, LEAST_APART};
use crate::characters::reading::{Reading, withhold_where_off};
use crate::pair::companion::Companion;
use crate::pair::joint::{Witness, together};
use crate::pair::shown::shown;
use crate::pair::spans::spans;
use crate::pair::tune::{tune, tune_by_phases};
use crate::pair::window::{Look, STEPS, Window, WindowReading};

/// A window is looked at again if phases moved its tracks by more than this, Hz.
const RETUNE_HZ: f64 = 0.25;

impl Follower {
    /// Reads a window once, by its own sound and its companions'.
    fn read_once(&mut self, window: &Window) -> WindowReading {
        let mut companions = std::mem::take(&mut self.companions);
        let known = self.known();
        let (tones, mut elements) = window.weighed(&known);
        for companion in &mut companions {
            companion.weigh(known.priors, known.ln_i0, &mut elements);
        }
        let reading = window.framed(tones, elements, &known);
        self.companions = companions;
        reading
    }

    /// Reads a window as often as it takes.
    pub(super) fn read(&mut self, window: &Window, commit_s: f64) -> WindowReading {
        let mut reading = self.read_once(window);
        if !self.is_certain(window, &reading, commit_s) {
            self.tune(window, &reading);
            reading = self.read_again(window, &reading);
        }
        if self.is_certain(window, &reading, commit_s) {
            self.tune(window, &reading);
        } else {
            self.read_closely(window, &mut reading, commit_s);
        }
        reading
    }

    fn tune(&mut self, window: &Window, reading: &WindowReading) {
        tune(&mut self.tracks, window, reading, self.levels.noise());
        self.companions.iter_mut().for_each(|c| c.tune(reading));
    }

    /// Keeps what was newly shown of the levels before `until_s`.
    pub(super) fn remember(&mut self, window: &Window, reading: &WindowReading, until_s: f64) {
        let from_s = self.committed_s;
        self.levels
            .remember(shown(window, reading, (from_s, until_s)));
        for companion in &mut self.companions {
            companion.remember(reading, (from_s, until_s));
        }
    }

    /// Reads a window again, with the levels that the last reading showed.
    fn read_again(&mut self, window: &Window, reading: &WindowReading) -> WindowReading {
        self.remember(window, reading, f64::INFINITY);
        let again = self.read_once(window);
        let from_s = self.committed_s;
        self.levels.forget_from(from_s);
        let companions = self.companions.iter_mut();
        companions.for_each(|c| c.forget_from(from_s));
        again
    }

    /// Whether a further look could not change what is given out.
    pub(super) fn is_certain(
        &self,
        window: &Window,
        reading: &WindowReading,
        commit_s: f64,
    ) -> bool {
        reading.is_certain(&window.grid, self.after_s(), commit_s)
    }

    /// Characters that begin later than this are new.
    pub(super) fn after_s(&self) -> f64 {
        self.gaps.last_start_s() + LEAST_APART * self.element_s
    }

    /// Reads a window again by all sender models, and once more with the levels and tracks
    /// that they showed: a fade is seen by its depth, which their reading tells best.
    fn read_closely(&mut self, window: &Window, reading: &mut WindowReading, commit_s: f64) {
        let before = self.senders.clone();
        self.companions.iter_mut().for_each(Companion::keep);
        let mut moved_hz = self.look_closer(window, reading);
        let is_moved = moved_hz.is_some_and(|hz| hz > RETUNE_HZ);
        if is_moved || !self.is_certain(window, reading, commit_s) {
            *reading = self.read_again(window, reading);
            self.senders = before;
            self.companions.iter_mut().for_each(Companion::back);
            moved_hz = self.look_closer(window, reading);
        }
        if moved_hz.is_none() {
            self.tune(window, reading);
        }
    }

    /// Reads a window's characters again, under sender models that follow phase; how far
    /// that moved the tracks, Hz, if phases told.
    fn look_closer(&mut self, window: &Window, reading: &mut WindowReading) -> Option<f64> {
        let (seen, start) = ((&self.tracks, &reading.tones), &reading.framed.start);
        let known = (&self.priors, &self.ln_i0);
        let closer = window.look_closer(&mut self.senders, seen, start, known);
        let others = self.look_closer_beside(&reading.framed.start);
        reading.readings = match self.companions.is_empty() {
            true => closer.readings,
            false => self.read_together(window, reading, &closer.readings, &others),
        };
        let framed = &reading.framed;
        withhold_where_off(&mut reading.readings, framed, STEPS);
        reading.spans = spans(&reading.readings, framed, window.grid.points, STEPS);
        let moved = closer
            .phases
            .map(|phases| tune_by_phases(&mut self.tracks, window, &phases));
        let moved = others.iter().filter_map(|o| o.1).chain(moved);
        let moved = moved.reduce(f64::max);
        reading.look = match moved {
            Some(_) => Look::Phased,
            None => Look::Closer,
        };
        moved
    }

    /// The closer looks of the companions that hear the window, and by how much phases moved
    /// their tracks, Hz.
    fn look_closer_beside(&mut self, start: &[f32]) -> Vec<(Vec<Reading>, Option<f64>)> {
        let (priors, ln_i0) = (&self.priors, &self.ln_i0);
        let looks = self
            .companions
            .iter_mut()
            .filter_map(|c| c.look_closer(start, priors, ln_i0));
        looks
            .map(|(closer, moved)| (closer.readings, moved))
            .collect()
    }

    /// What all closer looks say together.
    fn read_together(
        &self,
        window: &Window,
        reading: &WindowReading,
        own: &[Reading],
        others: &[(Vec<Reading>, Option<f64>)],
    ) -> Vec<Reading> {
        let alone = window.weighed(&self.known()).1;
        let beside = self.companions.iter().filter_map(Companion::elements);
        let beside = beside.zip(others).map(|(elements, look)| Witness {
            closer: &look.0,
            elements,
        });
        let own = Witness {
            closer: own,
            elements: &alone,
        };
        let witnesses: Vec<Witness> = std::iter::once(own).chain(beside).collect();
        together(&reading.readings, &witnesses)
    }
}
