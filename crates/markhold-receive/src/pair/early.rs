//! Early reading: characters as soon as their stop element has been heard, for readers that
//! cannot wait.
//!
//! The same framing as the follower's, over a short window that ends now. It begins where the
//! follower stands and walks ahead of it, frame by frame; whenever the follower has moved on,
//! it begins again from there, so that it never strays for longer than one commit.
//!
//! ```text
//!   follower's begin      last commit point                       now
//!     |-- 30 elements --|------------ up to 2.7 s -----------------|
//!                                          |---- 18 elements ------|
//!                                          begin of the next early window
//! ```

use markhold_signal::BandPlan;

use super::conditions::Surroundings;
use super::follower::{Follower, Heard, LEAST_APART, Standing};
use super::levels::Levels;
use super::shown::shown;
use super::tones::ToneCutter;
use super::window::{Known, Window, WindowReading};
use crate::characters::framing::Carry;
use crate::characters::reading::Reading;
use crate::levelled::Levelled;
use crate::senders::lattice::CHARACTER;

/// How much of what was heard is read again at the next frame, elements: a character with its
/// first unit of stop, and another to tell where it began.
const BACK_ELEMENTS: f64 = 18.0;

/// Reads ahead of a follower.
pub struct EarlyReader {
    // derived
    cutter: ToneCutter,
    // state
    walk: Option<Walk>,
    last_start_s: f64,
}

/// Where the early walk stands.
struct Walk {
    /// The follower's commit point that it set out from, s.
    committed_s: f64,
    begin_s: f64,
    carry: Carry,
    levels: Levels,
    /// Up to where the levels have taken in what was shown, s.
    remembered_s: f64,
}

impl EarlyReader {
    /// Reads elements of a modulation rate in baud.
    pub fn new(plan: BandPlan, rate_baud: f64) -> Self {
        Self {
            cutter: ToneCutter::new(plan, rate_baud),
            walk: None,
            last_start_s: f64::NEG_INFINITY,
        }
    }

    /// Reads all that was heard up to `until_s`; gives every character once.
    pub fn advance(
        &mut self,
        follower: &Follower,
        sound: &Levelled,
        until_s: f64,
        out: &mut Vec<Heard>,
    ) {
        let standing = follower.standing();
        let mut walk = match self.walk.take() {
            Some(walk) if walk.committed_s == standing.committed_s => walk,
            _ => Walk::from(&standing),
        };
        if until_s > walk.begin_s + CHARACTER * standing.element_s {
            self.read(&mut walk, &standing, sound, until_s, out);
        }
        self.walk = Some(walk);
    }

    fn read(
        &mut self,
        walk: &mut Walk,
        standing: &Standing,
        sound: &Levelled,
        until_s: f64,
        out: &mut Vec<Heard>,
    ) {
        let (tracks, element_s) = (standing.known.tracks, standing.element_s);
        let stretch = (walk.begin_s, until_s);
        let window = Window::cut(&mut self.cutter, sound, tracks, element_s, stretch);
        let reading = window.read(&Known {
            levels: &walk.levels,
            carry: &walk.carry,
            ..standing.known
        });
        let surroundings = Surroundings {
            window: &window,
            reading: &reading,
            tracks,
            sound,
        };
        self.emit(&surroundings, out);
        walk.move_on(&window, &reading, standing);
    }

    fn emit(&mut self, surroundings: &Surroundings, out: &mut Vec<Heard>) {
        let (window, reading) = (surroundings.window, surroundings.reading);
        let grid = &window.grid;
        for r in &reading.readings {
            let start_s = grid.at(r.start);
            let after_s = self.last_start_s + LEAST_APART * grid.element_s();
            if start_s <= after_s || !is_complete(r, window) {
                continue;
            }
            self.last_start_s = start_s;
            let heard = Reading {
                present: r.present * reading.support(r),
                ..r.clone()
            };
            out.push(Heard {
                start_s,
                conditions: surroundings.of(&heard),
                reading: heard,
            });
        }
    }
}

/// Whether a character was heard up to the end of its first unit of stop.
fn is_complete(reading: &Reading, window: &Window) -> bool {
    let grid = &window.grid;
    reading.start + CHARACTER * grid.steps as f64 <= grid.points as f64
}

impl Walk {
    fn from(standing: &Standing) -> Self {
        Self {
            committed_s: standing.committed_s,
            begin_s: standing.begin_s,
            carry: standing.known.carry.clone(),
            levels: standing.known.levels.clone(),
            remembered_s: standing.committed_s,
        }
    }

    fn move_on(&mut self, window: &Window, reading: &WindowReading, standing: &Standing) {
        let grid = &window.grid;
        self.remember(window, reading);
        let back_s = grid.end_s() - BACK_ELEMENTS * grid.element_s();
        let cut = ((back_s - grid.begin_s) / grid.step_s).round().max(0.0) as usize;
        if cut > 0 {
            let priors = standing.known.priors;
            self.carry = reading.framed.carry(&reading.elements, priors, cut);
            self.begin_s = grid.at(cut as f64);
        }
    }

    /// Lets the levels take in what complete characters showed, and what lies too far back
    /// for one that is not.
    fn remember(&mut self, window: &Window, reading: &WindowReading) {
        let grid = &window.grid;
        let character_s = CHARACTER * grid.element_s();
        let complete = reading
            .readings
            .iter()
            .rev()
            .find(|r| is_complete(r, window));
        let heard_s = complete.map_or(f64::NEG_INFINITY, |r| grid.at(r.start) + character_s);
        let until_s = heard_s.max(grid.end_s() - character_s);
        let within_s = (self.remembered_s, until_s);
        self.levels.remember(shown(window, reading, within_s));
        self.remembered_s = self.remembered_s.max(until_s);
    }
}
