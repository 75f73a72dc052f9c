//! One sked at one time, and what became of it.

use super::{EARLY, LATE, OVERRUN, QUIET, later};
use crate::{MarkOnAir, Sked};
use jiff::Timestamp;

/// What became of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunState {
    /// It is listened to, or will be.
    Open,
    /// It was heard and kept.
    Kept,
    /// It was not; the cause says why.
    Missed,
}

impl RunState {
    /// The word in the archive.
    pub fn word(self) -> &'static str {
        match self {
            RunState::Open => "open",
            RunState::Kept => "kept",
            RunState::Missed => "missed",
        }
    }

    /// From the word in the archive; what is none is open, and looked at again.
    pub fn from_word(word: &str) -> Self {
        match word {
            "kept" => RunState::Kept,
            "missed" => RunState::Missed,
            _ => RunState::Open,
        }
    }
}

/// A signal as the room tells it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// Its number in the evening.
    pub signal: u32,
    /// Shift, Hz.
    pub shift_hz: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
    /// Which radio frequency is mark, where the sideband is known.
    pub mark: Option<MarkOnAir>,
    /// When it was first heard.
    pub first: Timestamp,
    /// When it was last heard.
    pub last: Timestamp,
}

/// One sked at one time.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// The sked's number.
    pub sked: i64,
    /// What it was called then.
    pub title: String,
    /// When it was due.
    pub begins: Timestamp,
    /// When it usually ends.
    pub ends: Timestamp,
    /// Shift, rate and mark to hold it to, where known.
    pub held: (Option<f64>, Option<f64>, Option<MarkOnAir>),
    /// What became of it.
    pub state: RunState,
    /// Why it was missed, or what is to be said of it; may be empty.
    pub cause: String,
    /// The evenings it is in, and its signals in them.
    pub kept_in: Vec<(i64, Vec<u32>)>,
    /// When it was last heard.
    pub last_heard: Option<Timestamp>,
}

/// How far shift and rate may be from what is known, in proportion: published figures are round,
/// and a receiver measures a fading shift to a few percent.
const SHIFT_OFF: f64 = 0.15;
const RATE_OFF: f64 = 0.03;

impl Run {
    /// A run that opens.
    pub(super) fn new(id: i64, sked: &Sked, begins: Timestamp) -> Self {
        Run {
            sked: id,
            title: sked.title().to_string(),
            begins,
            ends: later(begins, sked.length()),
            held: (sked.shift_hz, sked.rate_baud, sked.mark),
            state: RunState::Open,
            cause: String::new(),
            kept_in: Vec::new(),
            last_heard: None,
        }
    }

    /// Until when it stays open, as far as is known now.
    pub fn until(&self) -> Timestamp {
        match self.last_heard {
            None => later(self.ends, LATE),
            Some(last) => later(last, QUIET).clamp(self.ends, later(self.ends, OVERRUN)),
        }
    }

    pub(super) fn fits(&self, heard: &Heard) -> bool {
        let (shift, rate, mark) = self.held;
        let near = |known: Option<f64>, found: f64, off: f64| {
            known.is_none_or(|known| (found / known - 1.0).abs() <= off)
        };
        let same_mark = mark
            .zip(heard.mark)
            .is_none_or(|(known, found)| known == found);
        near(shift, heard.shift_hz, SHIFT_OFF)
            && near(rate, heard.rate_baud, RATE_OFF)
            && same_mark
            && heard.last >= later(self.begins, -EARLY)
    }

    pub(super) fn has(&self, evening: i64, signal: u32) -> bool {
        let mut kept = self.kept_in.iter();
        kept.any(|(known, signals)| *known == evening && signals.contains(&signal))
    }

    /// It is listened to in this evening.
    pub(super) fn goes_on_in(&mut self, evening: i64) {
        if self.kept_in.last().is_none_or(|(last, _)| *last != evening) {
            self.kept_in.push((evening, Vec::new()));
        }
    }

    pub(super) fn hear(&mut self, evening: i64, heard: &Heard) {
        let place = self.kept_in.iter_mut().find(|(known, _)| *known == evening);
        if let Some((_, signals)) = place
            && !signals.contains(&heard.signal)
        {
            signals.push(heard.signal);
        }
        // What goes on after it closed is still its own, and changes nothing.
        if self.state == RunState::Open {
            self.last_heard = self.last_heard.max(Some(heard.last));
        }
    }

    /// Nobody looked between these times.
    pub(super) fn slept(&mut self, from: Timestamp, until: Timestamp) {
        let opens = later(self.begins, -EARLY);
        if from < self.until() && until > opens {
            let clock = |at: Timestamp| at.strftime("%Y-%m-%d %H:%M UTC").to_string();
            self.say(&format!(
                "markhold was stopped, or the computer slept or its clock was set, from {} to {}",
                clock(from),
                clock(until)
            ));
        }
    }

    /// Something kept it from being heard or kept.
    pub(super) fn trouble(&mut self, trouble: &str) {
        self.say(trouble);
    }

    /// Each cause is said once.
    fn say(&mut self, cause: &str) {
        if !self.cause.contains(cause) {
            if !self.cause.is_empty() {
                self.cause += "; ";
            }
            self.cause += cause;
        }
    }

    pub(super) fn close(&mut self) {
        match self.last_heard {
            Some(_) => self.state = RunState::Kept,
            None => {
                self.state = RunState::Missed;
                if self.cause.is_empty() {
                    self.say("nothing that fits was heard");
                }
            }
        }
    }
}
