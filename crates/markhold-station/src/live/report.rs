//! Everything that the live path tells.

use super::command::InUse;
use super::instruments::Instruments;
use super::serial;
use super::tuning::Tuning;
use markhold_event::{Event, Signal};
use markhold_shelf::KeepState;
use serde::Serialize;

/// What the clock showed at a moment of live time.
///
/// A new one is told whenever the two may have come apart: at the start, after a gap, when
/// the input changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Anchor {
    /// Live time, s.
    pub at_s: f64,
    /// The clock at that moment.
    #[serde(serialize_with = "serial::timestamp")]
    pub utc: jiff::Timestamp,
}

/// What happens to the input. Times are live time, s.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "input", rename_all = "kebab-case")]
pub enum InputReport {
    /// Sound from this source begins.
    Listening {
        /// The source as a person knows it.
        name: String,
        /// Samples a second, Hz.
        rate: u32,
        /// Where its first sample stands.
        anchor: Anchor,
    },
    /// Samples were lost on the way from the device.
    Gap {
        /// Where.
        at_s: f64,
        /// For how long.
        lost_s: f64,
    },
    /// Samples were lost on the way from the device; nobody knows how many.
    Lost {
        /// Where.
        at_s: f64,
    },
    /// The device vanished; it is waited for.
    Gone {
        /// When.
        at_s: f64,
        /// Why, in words.
        why: String,
    },
    /// The device is there again.
    Back {
        /// From here on there is sound again.
        at_s: f64,
        /// For how long there was none.
        lost_s: f64,
        /// Samples a second from here on, Hz.
        rate: u32,
        /// What the clock shows here.
        anchor: Anchor,
    },
    /// The copying fell behind and left out sound; what was kept is complete.
    Behind {
        /// Where.
        at_s: f64,
        /// How much was left out.
        lost_s: f64,
    },
    /// Something happened to what is kept.
    Kept {
        /// When.
        at_s: f64,
        /// What, in a sentence.
        words: String,
    },
    /// The computer's clock was set; times go on as before.
    ClockSet {
        /// When.
        at_s: f64,
        /// By how much it was put forward (back, below 0), s.
        by_s: f64,
    },
    /// The source has ended, all of it is copied.
    Ended {
        /// When.
        at_s: f64,
        /// What went wrong, if it was not simply the end.
        why: Option<String>,
    },
}

/// A signal that is followed, now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Followed {
    /// What is known of it.
    #[serde(flatten)]
    pub signal: Signal,
    /// Mean probability of its latest characters, 0 to 1; `None` before the first.
    pub quality: Option<f32>,
    /// Its characters so far.
    pub characters: u64,
    /// Whether its characters are reported.
    pub copied: bool,
}

/// Static crashes. They come before lightning does: a rising rate is a reason to look at
/// the sky, and to follow local safety advice, in good time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Counts {
    /// Crashes since the start.
    pub crashes: u64,
    /// Crashes in the latest minute.
    pub crashes_per_minute: f64,
    /// Whether the rate rises in a way that a thunderstorm coming nearer does.
    pub lightning_caution: bool,
}

/// One thing told.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "report", content = "value", rename_all = "kebab-case")]
pub enum Report {
    /// A signal was found, a character decided, a signal ended.
    Event(Event),
    /// All signals followed now; about once a second.
    Followed(Vec<Followed>),
    /// Pictures and meters; about 25 a second.
    Instruments(Box<Instruments>),
    /// What to do with the dial; when it changes.
    Tuning(Tuning),
    /// What happens to the input.
    Input(InputReport),
    /// Counted things; when they change.
    Counts(Counts),
    /// What is set; when it changes.
    Settings(InUse),
    /// How the evening is kept; when it changes.
    Keeping(KeepState),
}
