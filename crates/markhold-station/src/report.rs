//! Everything that the station tells.

use crate::answering::AnswerState;
use crate::instruments::{Counts, Instruments};
use crate::practice::Turned;
use crate::settings::InUse;
use crate::tuning::{Tone, Tuning};
use markhold_event::{Event, SentLine, Signal};
use markhold_page::Machine;
use markhold_shelf::KeepState;
use serde::{Serialize, Serializer};
use std::sync::Arc;

/// What the clock showed at a moment of live time.
///
/// A new one is told whenever the two may have come apart: at the start, after a gap, when
/// the input changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Anchor {
    /// Live time, s.
    pub at_s: f64,
    /// The clock at that moment.
    #[serde(serialize_with = "timestamp")]
    pub utc: jiff::Timestamp,
}

/// A time on the clock as text of RFC 3339.
fn timestamp<S: Serializer>(at: &jiff::Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(at)
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

/// How printing stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PaperState {
    /// The machine printed on, now or last.
    pub machine: Option<String>,
    /// Whether it is being printed on.
    pub runs: bool,
    /// Whether the way to its line is open.
    pub open: bool,
    /// Whether the motor runs; `None` where it is not switched from here.
    pub motor: Option<bool>,
    /// Codes that wait to be sent.
    pub waiting: usize,
    /// How long they take, s.
    pub waiting_s: f64,
    /// Codes sent.
    pub sent: u64,
    /// Characters sent as read first that turned out otherwise.
    pub unlike: u64,
    /// Characters left out because garble ran.
    pub garbled: u64,
    /// How long a better reading is waited for, s.
    pub patience_s: f64,
    /// What is wrong with the way, and what to do about it.
    pub error: Option<String>,
    /// Where it is kept what went to paper.
    pub kept: Option<String>,
    /// Why that cannot be written.
    pub not_kept: Option<String>,
    /// Codes that were dropped when printing was stopped.
    pub dropped: usize,
    /// The machine itself, for who lays out a sheet as it prints.
    #[serde(skip)]
    pub layout: Option<Arc<Machine>>,
}

/// Where sound is heard and what is made of it stays together: the station's evening and
/// practice never mix, neither on the shelf nor on a sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Room {
    /// What the station's receiver hears.
    #[default]
    Radio,
    /// The practice band.
    Practice,
}

/// One thing told.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "report", content = "value", rename_all = "kebab-case")]
pub enum Report {
    /// A signal was found, a character decided, a signal ended.
    Event(Event),
    /// A line was sent from here, or one that was told before has grown.
    Sent(SentLine),
    /// All signals followed now; about once a second.
    Followed(Vec<Followed>),
    /// Pictures and meters; about 25 a second.
    Instruments(Box<Instruments>),
    /// What to do with the dial; when it changes.
    Tuning(Tuning),
    /// Tones of others than the signals followed, by pitch; when they change.
    Around(Vec<Tone>),
    /// What happens to the input.
    Input(InputReport),
    /// Counted things; when they change.
    Counts(Counts),
    /// What is set; when it changes.
    Settings(InUse),
    /// How the evening is kept; when it changes.
    Keeping(KeepState),
    /// The number of the evening on the shelf; once it has one.
    Evening(i64),
    /// Another input is listened to: its id.
    Chosen(String),
    /// How printing stands; several times a second while it changes.
    Paper(PaperState),
    /// How answering stands; several times a second while it changes.
    Answer(Box<AnswerState>),
    /// How the practice receiver stands; when it was turned.
    Practice(Turned),
    /// The station shows this room from now on: who follows it begins anew with
    /// [`crate::Station::join`].
    Room(Room),
}
