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

mod learning;
mod reading;

use markhold_signal::{BandPlan, bessel::LnI0};

use super::companion::Companion;
use super::conditions::{Conditions, Surroundings};
use super::distance::{DistanceFinder, usual_near};
use super::found::Found;
use super::gaps::Gaps;
use super::jumps::follow_jumps;
use super::levels::Levels;
use super::line::LineState;
use super::speed::SpeedFinder;
pub use super::start::PairStart;
use super::tones::{Grid, ToneCutter};
use super::track::Track;
use super::window::{Known, STEPS, Window, WindowReading};
use crate::characters::framing::{Carry, LinePriors};
use crate::characters::reading::Reading;
use crate::levelled::Levelled;
use crate::senders::{drift::DriftWatch, evidence::Senders};

/// How far a window is committed at a time, s.
const ADVANCE_S: f64 = 1.5;
/// How far a window looks ahead beyond its commit point, s.
const AHEAD_S: f64 = 1.2;
/// How far a window reaches back before the last commit point, elements.
const BACK_ELEMENTS: f64 = 30.0;
/// Characters begin farther apart than this, elements: they are seven and more long.
pub(super) const LEAST_APART: f64 = 6.0;
/// A character was heard where its start and its five elements were, before the sound ended,
/// elements.
const HEARD: f64 = 6.0;

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
    gaps: Gaps,
    /// Tones of mark and of space where they were first known well, Hz.
    known_hz: Option<[f64; 2]>,
    /// Readings beyond the last commit point.
    ahead: Vec<Heard>,
    /// Where it was found.
    found: Option<Found>,
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
            gaps: Gaps::new(STEPS),
            known_hz: None,
            ahead: Vec::new(),
            found: None,
            companions: Vec::new(),
        }
    }

    /// The pair was found in sound up to `until_s`: what is read of before is read knowing it.
    pub fn found(&mut self, until_s: f64) {
        self.found = Some(Found {
            at_s: until_s,
            tones_hz: self.tones_hz(),
        });
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
            carry: Carry::nothing(),
            tracks: [mark + apart_hz, space - apart_hz].map(Track::constant),
            levels: Levels::new(self.levels.mean_power(), self.levels.noise()),
            line: LineState::default(),
            drift: DriftWatch::default(),
            gaps: self.gaps.again(),
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
        let stretch_s = (self.committed_s, commit_s);
        self.gaps.note_off(&window.grid, &reading, stretch_s);
        self.measure_distance(&window, &reading, commit_s);
        self.note_tones(&reading, commit_s);
        self.move_on(&window.grid, &reading, commit_s);
        self.measure_speed(&window, &reading);
    }

    /// Cuts the next window, after the tracks followed what jumps it holds.
    fn cut(&mut self, sound: &Levelled, end_s: f64) -> Window {
        let (noise, stretch) = (self.levels.noise(), (self.begin_s, end_s));
        let (tracks, element_s) = (&mut self.tracks, self.element_s);
        let heard = ((self.begin_s, end_s), self.found);
        follow_jumps(sound.band(), tracks, noise, element_s, heard);
        let window = Window::cut(&mut self.cutter, sound, tracks, element_s, stretch);
        self.companions.iter_mut().for_each(|c| c.cut(&window.grid));
        window
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
            let grid = &window.grid;
            let misplaced = self.gaps.misplaced(grid, &reading.readings, k);
            let idled = 1.0 - self.gaps.off_before(grid, reading, k, self.committed_s);
            if start_s < commit_s
                && let Some(priors) = self.gaps.take(grid, start_s, r)
            {
                self.priors = priors;
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
        self.gaps.stop_units()
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
