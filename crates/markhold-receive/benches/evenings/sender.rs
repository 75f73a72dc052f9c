//! A sending station: what it sends and how its machine and oscillator behave.

mod line;
mod wave;

use super::alphabet::Row;
use super::text::Matter;
pub use line::Line;

/// Pauses between characters, all at mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// Each character follows at once, as from tape.
    Tape,
    /// Exponential gaps of so many seconds in the mean; between words, so often, a pause of
    /// up to so long.
    Typed {
        gap_s: f64,
        pause_share: f64,
        pause_s: f64,
    },
    /// One to three characters after so many seconds of mark.
    Few { every_s: f64 },
    /// The shift in force is sent again whenever nothing else is, so often.
    Filled { share: f64 },
}

/// How the two tones are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Oscillator {
    /// One, moved: its phase never jumps.
    Moved,
    /// Two that run freely, switched.
    Two,
    /// One that begins anew at each change.
    Fresh,
}

/// Amplitude modulation by the mains: an ill-smoothed supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ripple {
    pub hz: f64,
    /// 0 is none, 1 down to nothing.
    pub depth: f64,
}

/// Everything about a sender. A tone alone has amplitude 1.
#[derive(Clone, Debug)]
pub struct Sender {
    pub matter: Matter,
    pub row: Row,
    /// Its machine goes back to letters on a space, and relies on that at the other end.
    pub unshift: bool,
    /// Figures shift is sent again after a space within figures.
    pub repeat_shift: bool,
    /// What ends a line.
    pub line_end: &'static str,
    pub mark_hz: f64,
    pub space_hz: f64,
    pub baud: f64,
    /// Length of the stop element, elements.
    pub stop: f64,
    pub pace: Pace,
    /// The motor hunts: the rate swings by this part of itself, every few seconds.
    pub hunt: f64,
    /// Mark elements are so much of an element too long, space ones too short; or the other way.
    pub bias: f64,
    /// Scatter of each transition, standard deviation, s.
    pub jitter_s: f64,
    pub oscillator: Oscillator,
    /// How far a tone begins from its place, Hz, until it has settled in some milliseconds.
    pub chirp_hz: f64,
    pub ripple: Option<Ripple>,
    /// Amplitudes of mark and space.
    pub levels: [f64; 2],
    /// Carrier off in between: sends for so long, is silent for so long, s.
    pub overs_s: Option<[f64; 2]>,
    /// Idle mark before the first character, s.
    pub lead_s: f64,
}
