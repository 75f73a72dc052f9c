//! A companion: another receiver's sound of the transmission that a follower follows.
//!
//! It has its own clock, tones, levels and kind of sender; only the line is common. What its
//! elements say is added to what the others' say before they are framed, and what was read
//! together tells its tones and levels:
//!
//! ```text
//!   its sound -> its window -> its elements --+
//!                                             +--> framed once --> readings
//!   the follower's own elements --------------+
//!        its tracks, levels, senders <-------------------- together
//! ```

use markhold_signal::{BandPlan, bessel::LnI0};

use super::conditions::{Conditions, Surroundings};
use super::jumps::follow_jumps;
use super::levels::Levels;
use super::shown::shown;
use super::start::PairStart;
use super::tones::{Grid, ToneCutter};
use super::track::Track;
use super::tune::{tune, tune_by_phases};
use super::window::{Known, Window, WindowReading};
use crate::characters::framing::{Carry, LinePriors};
use crate::characters::reading::Reading;
use crate::elements::{Elements, ToneOnGrid};
use crate::levelled::Levelled;
use crate::senders::drift::DriftWatch;
use crate::senders::evidence::{Closer, Senders};

/// The time of one receiver's sound by another's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnTime {
    /// Its time when the other's is 0, s.
    pub at_zero_s: f64,
    /// Its seconds in one of the other's.
    pub rate: f64,
}

impl OwnTime {
    /// Its time at the other's time `t`, s.
    pub fn at(&self, t: f64) -> f64 {
        self.at_zero_s + self.rate * t
    }

    /// The other's time at its time `t`, s.
    pub fn back(&self, t: f64) -> f64 {
        (t - self.at_zero_s) / self.rate
    }
}

/// What a companion heard of the window that is being read.
struct Hearing {
    window: Window,
    tones: [ToneOnGrid; 2],
    elements: Elements,
}

/// Another receiver's sound of the same transmission.
pub struct Companion {
    // derived
    time: OwnTime,
    cutter: ToneCutter,
    // state
    sound: Levelled,
    tracks: [Track; 2],
    levels: Levels,
    drift: DriftWatch,
    senders: Senders,
    before: Senders,
    hearing: Option<Hearing>,
}

impl Companion {
    /// Follows what `start` tells, in its own time; of its sound the latest `kept` frames are
    /// remembered.
    pub fn new(plan: BandPlan, kept: usize, start: &PairStart, time: OwnTime) -> Self {
        Self {
            time,
            cutter: ToneCutter::new(plan, start.rate_baud),
            sound: Levelled::new(plan, kept),
            tracks: [start.mark_hz, start.space_hz].map(Track::constant),
            levels: Levels::new(start.power, start.noise),
            drift: DriftWatch::default(),
            senders: Senders::default(),
            before: Senders::default(),
            hearing: None,
        }
    }

    /// Takes samples of its sound.
    pub fn push(&mut self, samples: &[f32]) {
        self.sound.push_all(samples);
    }

    /// Its sound has ended.
    pub fn finish(&mut self) {
        self.sound.finish_all();
    }

    /// Up to which time of the follower its sound is there, s.
    pub fn heard_s(&self) -> f64 {
        let band = self.sound.band();
        let plan = band.plan();
        self.time
            .back(plan.output_start(band.next_frame()) as f64 / plan.rate_hz)
    }

    /// Cuts what it heard of a window with this grid; nothing, where its sound does not reach.
    pub(super) fn cut(&mut self, grid: &Grid) {
        let own = Grid {
            begin_s: self.time.at(grid.begin_s),
            step_s: grid.step_s * self.time.rate,
            ..*grid
        };
        self.hearing = None;
        if own.begin_s < self.sound.oldest_s() {
            return;
        }
        // How much of its sound is there beyond depends on who was heard first.
        let stretch = ((own.begin_s, own.end_s()), None);
        let noise = self.levels.noise();
        follow_jumps(
            self.sound.band(),
            &mut self.tracks,
            noise,
            own.element_s(),
            stretch,
        );
        self.hearing = Some(Hearing {
            window: Window::on_grid(&mut self.cutter, &self.sound, &self.tracks, own),
            tones: Default::default(),
            elements: Elements::default(),
        });
    }

    /// Adds what its elements say.
    pub(super) fn weigh(&mut self, priors: &LinePriors, ln_i0: &LnI0, all: &mut Elements) {
        let Some(hearing) = &mut self.hearing else {
            return;
        };
        let known = Known {
            tracks: &self.tracks,
            levels: &self.levels,
            priors,
            carry: &Carry::nothing(),
            ln_i0,
        };
        (hearing.tones, hearing.elements) = hearing.window.weighed(&known);
        all.add(&hearing.elements);
    }

    /// Its elements alone.
    pub(super) fn elements(&self) -> Option<&Elements> {
        self.hearing.as_ref().map(|h| &h.elements)
    }

    /// Moves its tones by what was read together.
    pub(super) fn tune(&mut self, reading: &WindowReading) {
        if let Some(hearing) = &self.hearing {
            let seen = reading.seen_by(&hearing.tones);
            let noise = self.levels.noise();
            tune(&mut self.tracks, &hearing.window, &seen, noise);
        }
    }

    /// Keeps what spans from `from_s` to `until_s` of the follower's time showed.
    pub(super) fn remember(&mut self, reading: &WindowReading, (from_s, until_s): (f64, f64)) {
        if let Some(hearing) = &self.hearing {
            let seen = reading.seen_by(&hearing.tones);
            let heard_s = (self.time.at(from_s), self.time.at(until_s));
            self.levels.remember(shown(&hearing.window, &seen, heard_s));
        }
    }

    /// Drops what was shown from there on.
    pub(super) fn forget_from(&mut self, from_s: f64) {
        self.levels.forget_from(self.time.at(from_s));
    }

    /// Keeps what it knows of the kind of sender, for [`Companion::back`].
    pub(super) fn keep(&mut self) {
        self.before = self.senders.clone();
    }

    /// Takes that up again.
    pub(super) fn back(&mut self) {
        self.senders = self.before.clone();
    }

    /// Reads the window's characters by sender models, in its sound alone, and moves its tones
    /// by their phases; how far that was, Hz, if phases told.
    pub(super) fn look_closer(
        &mut self,
        start: &[f32],
        priors: &LinePriors,
        ln_i0: &LnI0,
    ) -> Option<(Closer, Option<f64>)> {
        let hearing = self.hearing.as_ref()?;
        let seen = (&self.tracks, &hearing.tones);
        let window = &hearing.window;
        let closer = window.look_closer(&mut self.senders, seen, start, (priors, ln_i0));
        let phases = closer.phases.as_ref();
        let moved = phases.map(|p| tune_by_phases(&mut self.tracks, &hearing.window, p));
        Some((closer, moved))
    }

    /// Under what conditions it heard a character.
    pub(super) fn conditions(
        &self,
        reading: &WindowReading,
        character: &Reading,
    ) -> Option<Conditions> {
        let hearing = self.hearing.as_ref()?;
        let surroundings = Surroundings {
            sound: &self.sound,
            window: &hearing.window,
            reading: &reading.seen_by(&hearing.tones),
            tracks: &self.tracks,
        };
        Some(surroundings.of(character))
    }

    /// Goes on to the next window, which begins at `begin_s` of the follower's time and is
    /// committed up to `commit_s`; `ahead_s` of it lie beyond what was heard.
    pub(super) fn move_on(&mut self, (begin_s, commit_s): (f64, f64), ahead_s: f64, is_on: bool) {
        let Some(hearing) = &self.hearing else {
            return;
        };
        let commit_s = self.time.at(commit_s);
        self.drift.learn(commit_s, self.tracks[0].hz(commit_s));
        let (drift, begin_s) = (self.drift.rate(), self.time.at(begin_s));
        let end_s = hearing.window.grid.end_s();
        for track in &mut self.tracks {
            *track = track.since(begin_s).foretold(end_s, ahead_s, drift);
        }
        self.levels.learn(commit_s, is_on);
    }
}
