//! The follower: one pair, walked through window by window.
//!
//! Each window is read twice. The first reading uses what is known so far; from it come
//! the course of the line, from that the gains, the noise and the frequency; the second
//! reading uses those. Where characters are still not certain, the sender models read them
//! a third time. Readings are given out up to the commit point, the rest of the window is
//! only looked ahead into, and the next window begins some characters before it.
//!
//! ```text
//!   begin        last commit point          commit point            end
//!     |-- 30 elements --|-------- 1.5 s ----------|----- 1.2 s ------|
//!        read already        given out now           looked ahead into
//! ```

use markhold_signal::{BandPlan, bessel::LnI0};

use super::companion::Companion;
use super::conditions::{Conditions, Surroundings};
use super::distance::{DistanceFinder, usual_near};
use super::joint::{Witness, together};
use super::jumps::follow_jumps;
use super::levels::Levels;
use super::line::LineState;
use super::spans::spans;
use super::speed::{SpeedFinder, TRIAL};
pub use super::start::PairStart;
use super::tones::{Grid, ToneCutter};
use super::track::Track;
use super::tune::{tune, tune_by_phases, turns};
use super::window::{Known, Look, STEPS, Window, WindowReading};
use crate::characters::framing::{Carry, LinePriors};
use crate::characters::reading::Reading;
use crate::levelled::Levelled;
use crate::senders::{drift::DriftWatch, evidence::Senders, stops::StopLearner};

/// How far a window is committed at a time, s.
const ADVANCE_S: f64 = 1.5;
/// How far a window looks ahead beyond its commit point, s.
const AHEAD_S: f64 = 1.2;
/// A window is looked at again if phases moved its tracks by more than this, Hz.
const RETUNE_HZ: f64 = 0.25;
/// How far a window reaches back before the last commit point, elements.
const BACK_ELEMENTS: f64 = 30.0;
/// Characters begin farther apart than this, elements: they are seven and more long.
pub(super) const LEAST_APART: f64 = 6.0;
/// A character was heard where its start and its five elements were, before the sound ended,
/// elements.
const HEARD: f64 = 6.0;
/// A window with fewer characters, each at least this likely, says nothing of the speed.
const SPEED_CHARACTERS: (usize, f32) = (3, 0.8);

/// Evidence that the line is a start-stop line at all, below which its elements say nothing
/// of the distance: what is read into a steady tone has its spaces where mark's own spectrum
/// reaches.
const DISTANCE_MARGIN: f32 = 25.0;
/// Tones are known well by a window with so many characters of at least this probability.
const KNOWN: (usize, f32) = (4, 0.9);

/// A committed reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Begin of the start element, s.
    pub start_s: f64,
    /// What was read.
    pub reading: Reading,
    /// Under what conditions.
    pub conditions: Conditions,
}

/// Where a follower stands: all that reading on from there needs.
pub struct Standing<'a> {
    /// Where its next window begins, s.
    pub begin_s: f64,
    /// Up to where it has given out readings, s.
    pub committed_s: f64,
    /// Duration of an element, s.
    pub element_s: f64,
    /// What it knows of the pair.
    pub known: Known<'a>,
}

/// Follows one pair.
pub struct Follower {
    // derived
    cutter: ToneCutter,
    ln_i0: LnI0,
    // state: where the walk stands
    begin_s: f64,
    committed_s: f64,
    last_start_s: f64,
    carry: Carry,
    // state: what is known of the pair
    element_s: f64,
    tracks: [Track; 2],
    levels: Levels,
    priors: LinePriors,
    line: LineState,
    // state: what learns
    speed: SpeedFinder,
    drift: DriftWatch,
    distance: DistanceFinder,
    senders: Senders,
    stops: StopLearner,
    /// The latest character and when it began, s.
    last: Option<(f64, Reading)>,
    /// The greatest probability that the line was off since then.
    off: f32,
    /// Tones of mark and of space where they were first known well, Hz.
    known_hz: Option<[f64; 2]>,
    /// Readings beyond the last commit point.
    ahead: Vec<Heard>,
    /// Up to where sound was known when the pair was found, s.
    found_s: f64,
    /// Other receivers' sound of the same transmission.
    companions: Vec<Companion>,
}

impl Follower {
    /// Begins to follow a pair.
    pub fn new(plan: BandPlan, start: &PairStart) -> Self {
        let found_hz = start.mark_hz - start.space_hz;
        let too_far_hz = (found_hz - usual_near(found_hz).unwrap_or(found_hz)) / 2.0;
        Self {
            cutter: ToneCutter::new(plan, start.rate_baud),
            ln_i0: LnI0::default(),
            begin_s: start.at_s,
            committed_s: start.at_s,
            last_start_s: f64::NEG_INFINITY,
            carry: Carry::nothing(),
            element_s: 1.0 / start.rate_baud,
            tracks: [start.mark_hz - too_far_hz, start.space_hz + too_far_hz].map(Track::constant),
            levels: Levels::new(start.power, start.noise),
            priors: LinePriors::unknown(STEPS),
            line: LineState::default(),
            speed: SpeedFinder::default(),
            drift: DriftWatch::default(),
            distance: DistanceFinder::new(found_hz),
            senders: Senders::default(),
            stops: StopLearner::new(STEPS),
            last: None,
            off: 1.0,
            known_hz: None,
            ahead: Vec::new(),
            found_s: f64::NEG_INFINITY,
            companions: Vec::new(),
        }
    }

    /// The pair was found in sound up to `until_s`: what is read of before is read knowing it.
    pub fn found(&mut self, until_s: f64) {
        self.found_s = until_s;
    }

    /// Other receivers' sound of the same transmission, which is read together with its own.
    pub fn companions(&mut self) -> &mut Vec<Companion> {
        &mut self.companions
    }

    /// A follower that begins at instant `at_s`, knowing what this one learned: the tones, the
    /// rate, the stop element, levels and the kind of sender. `None` if the tones were never
    /// known well, so that it would do no better.
    pub fn again(self, at_s: f64) -> Option<Self> {
        let [mark, space] = self.known_hz?;
        let [mark_now, space_now] = self.tones_hz();
        let apart_hz = (mark_now - space_now - (mark - space)) / 2.0;
        Some(Self {
            begin_s: at_s,
            committed_s: at_s,
            last_start_s: f64::NEG_INFINITY,
            carry: Carry::nothing(),
            tracks: [mark + apart_hz, space - apart_hz].map(Track::constant),
            levels: Levels::new(self.levels.mean_power(), self.levels.noise()),
            line: LineState::default(),
            drift: DriftWatch::default(),
            last: None,
            off: 1.0,
            ..self
        })
    }

    /// Reads on while the band holds a whole window before instant `until_s`; with `last`,
    /// up to that instant.
    pub fn advance(&mut self, sound: &Levelled, until_s: f64, last: bool, out: &mut Vec<Heard>) {
        while until_s >= self.committed_s + ADVANCE_S + AHEAD_S {
            let commit = self.committed_s + ADVANCE_S;
            self.window(sound, commit + AHEAD_S, commit, out);
        }
        if last && until_s > self.committed_s {
            self.window(sound, until_s, until_s, out);
        }
    }

    /// Reads the window up to `end_s`, gives its characters up to `commit_s`, moves on there.
    fn window(&mut self, sound: &Levelled, end_s: f64, commit_s: f64, out: &mut Vec<Heard>) {
        let window = self.cut(sound, end_s);
        let reading = self.read(&window, commit_s);
        self.remember(&window, &reading, commit_s);
        self.line.notice(&reading, commit_s);
        self.weigh(&window, &reading, commit_s);
        self.emit(sound, &window, &reading, commit_s, out);
        self.note_off(&window.grid, &reading, commit_s);
        self.measure_distance(&window, &reading, commit_s);
        self.note_tones(&reading, commit_s);
        self.move_on(&window.grid, &reading, commit_s);
        self.measure_speed(&window, &reading);
    }

    /// Cuts the next window, after the tracks followed what jumps it holds.
    fn cut(&mut self, sound: &Levelled, end_s: f64) -> Window {
        let (noise, stretch) = (self.levels.noise(), (self.begin_s, end_s));
        let (tracks, element_s) = (&mut self.tracks, self.element_s);
        let heard = (self.begin_s, end_s, self.found_s);
        follow_jumps(sound.band(), tracks, noise, element_s, heard);
        let window = Window::cut(&mut self.cutter, sound, tracks, element_s, stretch);
        self.companions.iter_mut().for_each(|c| c.cut(&window.grid));
        window
    }

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
    fn read(&mut self, window: &Window, commit_s: f64) -> WindowReading {
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

    fn known(&self) -> Known<'_> {
        Known {
            tracks: &self.tracks,
            levels: &self.levels,
            priors: &self.priors,
            carry: &self.carry,
            ln_i0: &self.ln_i0,
        }
    }

    fn tune(&mut self, window: &Window, reading: &WindowReading) {
        tune(&mut self.tracks, window, reading, self.levels.noise());
        self.companions.iter_mut().for_each(|c| c.tune(reading));
    }

    /// Keeps what was newly shown of the levels before `until_s`.
    fn remember(&mut self, window: &Window, reading: &WindowReading, until_s: f64) {
        let from_s = self.committed_s;
        self.levels.remember(window, reading, from_s, until_s);
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
    fn is_certain(&self, window: &Window, reading: &WindowReading, commit_s: f64) -> bool {
        reading.is_certain(&window.grid, self.after_s(), commit_s)
    }

    /// Characters that begin later than this are new.
    fn after_s(&self) -> f64 {
        self.last_start_s + LEAST_APART * self.element_s
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
        framed.withhold_where_off(&mut reading.readings, STEPS);
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

    fn emit(
        &mut self,
        sound: &Levelled,
        window: &Window,
        reading: &WindowReading,
        commit_s: f64,
        out: &mut Vec<Heard>,
    ) {
        self.ahead.clear();
        for (k, r) in reading.readings.iter().enumerate() {
            let start_s = window.grid.at(r.start);
            let is_heard = r.start + HEARD * STEPS as f64 <= window.grid.points as f64;
            if start_s <= self.after_s() || !is_heard {
                continue;
            }
            let misplaced = self.misplaced(&window.grid, &reading.readings, k);
            let idled = 1.0 - self.off_before(&window.grid, reading, k);
            if start_s < commit_s {
                self.last_start_s = start_s;
                self.learn_stop(&window.grid, start_s, r);
            }
            let heard = Reading {
                present: r.present * reading.support(r),
                ..r.clone()
            };
            let surroundings = Surroundings {
                sound,
                window,
                reading,
                tracks: &self.tracks,
            };
            // By whom it was heard best, under those conditions.
            let beside = self.companions.iter();
            let beside = beside.filter_map(|c| c.conditions(reading, &heard));
            let best = beside.fold(surroundings.of(&heard), Conditions::stronger);
            let heard = Heard {
                start_s,
                conditions: Conditions {
                    misplaced,
                    idled,
                    ..best
                },
                reading: heard,
            };
            match start_s < commit_s {
                true => out.push(heard),
                false => self.ahead.push(heard),
            }
        }
    }

    /// By how much the gaps before and after a window's reading differ from this sender's.
    fn misplaced(&self, grid: &Grid, readings: &[Reading], k: usize) -> [f32; 2] {
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
    /// reading.
    fn off_before(&self, grid: &Grid, reading: &WindowReading, k: usize) -> f32 {
        let readings = &reading.readings;
        let begin = readings[k].start;
        match k {
            0 => self.off.max(self.off_within(grid, reading, (0.0, begin))),
            k => self.off_within(grid, reading, (readings[k - 1].start, begin)),
        }
    }

    /// The same from one grid point to another of what was not given out before: not while a
    /// character is sent.
    fn off_within(&self, grid: &Grid, reading: &WindowReading, (from, to): (f64, f64)) -> f32 {
        let new = (self.committed_s - grid.begin_s) / grid.step_s;
        let place = |at: f64| (at.max(0.0) as usize).min(reading.framed.off.len());
        let (from, to) = (place(from.max(new)), place(to));
        let off = reading.framed.off[from.min(to)..to].iter();
        off.fold(0.0, |most, off| most.max(*off))
    }

    /// Keeps whether the line was off since the latest character before `commit_s`.
    fn note_off(&mut self, grid: &Grid, reading: &WindowReading, commit_s: f64) {
        let end = (commit_s - grid.begin_s) / grid.step_s;
        let last = (self.last_start_s - grid.begin_s) / grid.step_s;
        let off = self.off_within(grid, reading, (last, end));
        self.off = match self.last_start_s >= self.committed_s {
            true => off,
            false => self.off.max(off),
        };
    }

    /// The latest character on the grid of a window.
    fn last_on(&self, grid: &Grid) -> Option<Reading> {
        let (last_s, last) = self.last.as_ref()?;
        Some(Reading {
            start: (last_s - grid.begin_s) / grid.step_s,
            ..last.clone()
        })
    }

    fn learn_stop(&mut self, grid: &Grid, start_s: f64, reading: &Reading) {
        if let Some(last) = self.last_on(grid) {
            self.stops.learn(&last, reading);
            self.priors = self.stops.priors();
        }
        self.last = Some((start_s, reading.clone()));
    }

    fn weigh(&mut self, window: &Window, reading: &WindowReading, commit_s: f64) {
        let is_certain = self.is_certain(window, reading, commit_s);
        let advanced_s = commit_s - self.committed_s;
        self.line
            .weigh(&window.grid, reading, advanced_s, is_certain);
    }

    /// Makes `commit_s` the last commit point.
    fn move_on(&mut self, grid: &Grid, reading: &WindowReading, commit_s: f64) {
        let back = commit_s - BACK_ELEMENTS * self.element_s;
        let cut = ((back - grid.begin_s) / grid.step_s).round().max(0.0) as usize;
        let cut = cut.min(grid.points - 1);
        self.carry = reading.framed.carry(&reading.elements, &self.priors, cut);
        self.begin_s = grid.at(cut as f64);
        self.committed_s = commit_s;
        self.drift.learn(commit_s, self.tracks[0].hz(commit_s));
        let drift = self.drift.rate();
        for track in &mut self.tracks {
            let kept = track.since(self.begin_s);
            *track = kept.foretold(grid.end_s(), ADVANCE_S, drift);
        }
        let is_on = self.line.on_until_s == Some(commit_s);
        self.levels.learn(commit_s, is_on);
        for companion in &mut self.companions {
            companion.move_on((self.begin_s, commit_s), ADVANCE_S, is_on);
        }
    }

    /// Keeps where the tones were when they were first known well: by their phases, or because
    /// all characters are sure.
    fn note_tones(&mut self, reading: &WindowReading, commit_s: f64) {
        let sure = |r: &&Reading| r.probability() > KNOWN.1;
        let is_well =
            reading.look != Look::Closer && reading.readings.iter().filter(sure).count() >= KNOWN.0;
        if is_well && self.known_hz.is_none() {
            self.known_hz = Some([0, 1].map(|k| self.tracks[k].hz(commit_s)));
        }
    }

    /// Moves the tracks apart or together by what the elements before `commit_s` add to what
    /// is known of their distance.
    fn measure_distance(&mut self, window: &Window, reading: &WindowReading, commit_s: f64) {
        if self.line.margin < DISTANCE_MARGIN {
            return;
        }
        let noise = self.levels.noise();
        let mut turns = turns(window, reading, noise);
        turns.retain(|t| t.at_s >= self.committed_s && t.at_s < commit_s);
        let distance_hz = self.tracks[0].hz(commit_s) - self.tracks[1].hz(commit_s);
        let phased = reading.look == Look::Phased;
        let by_hz = self
            .distance
            .learn(&turns, distance_hz, self.element_s, phased);
        let knots = window.knots();
        for (track, side) in self.tracks.iter_mut().zip([0.5, -0.5]) {
            *track = track.moved(&knots, |_| side * by_hz);
        }
    }

    /// Reads the window on trial with elements a little shorter and longer.
    fn measure_speed(&mut self, window: &Window, reading: &WindowReading) {
        let (least, likely) = SPEED_CHARACTERS;
        let heard = reading.readings.iter().filter(|r| r.present > likely);
        if heard.count() < least || !self.speed.is_due() {
            return;
        }
        let known = self.known();
        let evidence = [-TRIAL, 0.0, TRIAL].map(|by| window.evidence_with(reading, &known, by));
        if let Some(element_s) = self.speed.learn(evidence, self.element_s) {
            self.element_s = element_s;
        }
    }

    /// Where it stands.
    pub fn standing(&self) -> Standing<'_> {
        Standing {
            begin_s: self.begin_s,
            committed_s: self.committed_s,
            element_s: self.element_s,
            known: self.known(),
        }
    }

    /// What became of the line by the last commit point.
    pub fn line(&self) -> LineState {
        self.line
    }

    /// Length of the stop element, units, if characters follow each other at one pace.
    pub fn stop_units(&self) -> Option<f64> {
        self.stops.units()
    }

    /// Up to where readings have been given out, s.
    pub fn committed_s(&self) -> f64 {
        self.committed_s
    }

    /// Readings beyond that, which the next window will read again.
    pub fn ahead(&self) -> &[Heard] {
        &self.ahead
    }

    /// Modulation rate, baud.
    pub fn rate_baud(&self) -> f64 {
        1.0 / self.element_s
    }

    /// Levels of mark and of space.
    pub fn levels(&self) -> &Levels {
        &self.levels
    }

    /// Tones of mark and space at the last commit point, Hz.
    pub fn tones_hz(&self) -> [f64; 2] {
        [0, 1].map(|k| self.tracks[k].hz(self.committed_s))
    }
}
