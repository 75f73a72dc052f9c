//! One sked at one time, and what became of it.

use super::{Waits, later};
use crate::dial::middle_khz;
use crate::{MarkOnAir, Sked};
use jiff::{SignedDuration, Timestamp};

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
    /// Its number in the evening on the shelf; `None` while it is not there.
    pub signal: Option<u32>,
    /// Shift, Hz.
    pub shift_hz: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
    /// Which radio frequency is mark, where the sideband is known.
    pub mark: Option<MarkOnAir>,
    /// The middle of its two tones as heard last, Hz of audio.
    pub middle_hz: f64,
    /// The same on the air, kHz, where the receiver's dial is right.
    pub middle_khz: Option<f64>,
    /// When it was first heard.
    pub first: Timestamp,
    /// When it was last heard.
    pub last: Timestamp,
}

/// Shift, rate, mark and place on the air that a run is held to, where known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Held {
    /// Distance of the tones, Hz.
    pub shift_hz: Option<f64>,
    /// Modulation rate, baud.
    pub rate_baud: Option<f64>,
    /// Which radio frequency is mark.
    pub mark: Option<MarkOnAir>,
    /// The middle of its tones on the air, kHz; not kept.
    pub middle_khz: Option<f64>,
}

impl Held {
    /// What both are held to.
    #[must_use]
    pub fn common(self, other: Held) -> Held {
        Held {
            shift_hz: self.shift_hz.filter(|_| self.shift_hz == other.shift_hz),
            rate_baud: self.rate_baud.filter(|_| self.rate_baud == other.rate_baud),
            mark: self.mark.filter(|_| self.mark == other.mark),
            middle_khz: self
                .middle_khz
                .filter(|_| self.middle_khz == other.middle_khz),
        }
    }

    /// Whether what is heard may be what is held to this.
    pub fn fits(&self, heard: &Heard) -> bool {
        let near = |known: Option<f64>, found: f64, off: f64| {
            known.is_none_or(|known| (found / known - 1.0).abs() <= off)
        };
        let mark = self.mark.zip(heard.mark);
        let middle = self.middle_khz.zip(heard.middle_khz);
        near(self.shift_hz, heard.shift_hz, SHIFT_OFF)
            && near(self.rate_baud, heard.rate_baud, RATE_OFF)
            && mark.is_none_or(|(known, found)| known == found)
            && middle.is_none_or(|(known, found)| (known - found).abs() <= ASIDE_KHZ)
    }
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
    /// What it is held to.
    pub held: Held,
    /// What became of it.
    pub state: RunState,
    /// Why it was missed, or what is to be said of it; may be empty.
    pub cause: String,
    /// The evenings it is in, and its signals in them.
    pub kept_in: Vec<(i64, Vec<u32>)>,
    /// When it was last heard.
    pub last_heard: Option<Timestamp>,
    /// For how long it was heard, as far as is known at this look; not kept.
    pub heard_for: SignedDuration,
}

/// How far shift and rate may be from what is known, in proportion: published figures are round,
/// and a receiver measures a fading shift to a few percent.
const SHIFT_OFF: f64 = 0.15;
const RATE_OFF: f64 = 0.03;

/// How far from its place on the air a sender is still itself, kHz: a receiver that warms up moves by
/// less, and pairs of tones that are not each other's stand farther apart (common practice).
const ASIDE_KHZ: f64 = 1.0;

/// The cause where nothing was wrong at this end.
const NOTHING: &str = "nothing that fits was heard";

impl Run {
    /// A run that opens.
    pub(super) fn new(id: i64, sked: &Sked, begins: Timestamp) -> Self {
        Run {
            sked: id,
            title: sked.title().to_string(),
            begins,
            ends: later(begins, sked.length()),
            held: Held {
                shift_hz: sked.shift_hz,
                rate_baud: sked.rate_baud,
                mark: sked.mark,
                middle_khz: middle_khz(sked),
            },
            state: RunState::Open,
            cause: String::new(),
            kept_in: Vec::new(),
            last_heard: None,
            heard_for: SignedDuration::ZERO,
        }
    }

    /// From when on it is listened to.
    pub fn opens(&self, waits: &Waits) -> Timestamp {
        later(self.begins, -waits.early)
    }

    /// Until when it stays open, as far as is known now. One that was heard and is in no evening
    /// yet waits for that. What was heard for less than half of its time may have been another
    /// sender or noise: a late one is waited for all the same.
    pub fn until(&self, waits: &Waits) -> Timestamp {
        let late = later(self.ends, waits.late);
        let is_whole = self.heard_for * 2 >= self.ends.duration_since(self.begins);
        match self.last_heard {
            None => late,
            Some(_) if !self.is_kept() => later(self.ends, waits.overrun),
            Some(_) if !is_whole => self.quiet(waits).max(late),
            Some(_) => self.quiet(waits),
        }
    }

    /// When it will have been quiet for long enough.
    fn quiet(&self, waits: &Waits) -> Timestamp {
        match self.last_heard {
            None => self.ends,
            Some(last) => {
                later(last, waits.quiet).clamp(self.ends, later(self.ends, waits.overrun))
            }
        }
    }

    pub(super) fn fits(&self, heard: &Heard, waits: &Waits) -> bool {
        self.held.fits(heard) && heard.last >= self.opens(waits)
    }

    /// The evenings in which something of it is.
    pub fn heard_in(&self) -> impl Iterator<Item = i64> {
        let heard = self.kept_in.iter().filter(|(_, s)| !s.is_empty());
        heard.map(|(evening, _)| *evening)
    }

    fn is_kept(&self) -> bool {
        self.heard_in().next().is_some()
    }

    /// Whether this signal of this evening belongs to it.
    pub fn has(&self, evening: i64, signal: u32) -> bool {
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
        if let (Some((_, signals)), Some(signal)) = (place, heard.signal)
            && !signals.contains(&signal)
        {
            signals.push(signal);
        }
        // What goes on after it closed is still its own, and changes nothing.
        if self.state == RunState::Open {
            self.add(heard);
        }
    }

    /// Whether this is something of it that was not there yet when it was over.
    pub(super) fn misses(&self, evening: i64, heard: &Heard, waits: &Waits) -> bool {
        let mut parts = self.kept_in.iter();
        let empty = parts.any(|(known, signals)| *known == evening && signals.is_empty());
        empty && self.fits(heard, waits) && heard.first < later(self.ends, waits.late)
    }

    /// Its sound was copied again after it was over.
    pub(super) fn found_late(&mut self, evening: i64, heard: &Heard) {
        self.hear(evening, heard);
        self.last_heard = self.last_heard.max(Some(heard.last));
        if self.state == RunState::Missed {
            self.state = RunState::Kept;
            self.say("it was found when its sound was copied again");
        }
    }

    /// It was heard, in whatever evening.
    pub(super) fn add(&mut self, heard: &Heard) {
        self.last_heard = self.last_heard.max(Some(heard.last));
        self.heard_for += heard.last.duration_since(heard.first);
    }

    /// Nobody looked between these times.
    pub(super) fn slept(&mut self, from: Timestamp, until: Timestamp, waits: &Waits) {
        if from < self.until(waits) && until > self.opens(waits) {
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

    /// Its time is over; `signals` are all that were heard.
    pub(super) fn close(&mut self, signals: &[Heard]) {
        if self.is_kept() {
            self.state = RunState::Kept;
            return;
        }
        if self.last_heard.is_some() {
            self.say("it was heard, and the archive could not be had to keep it");
        }
        self.state = RunState::Missed;
        if self.cause.is_empty() {
            let covered = self.covered(signals);
            self.say(&format!("{NOTHING}{covered}"));
        }
    }

    /// Whether it was listened to and nothing of it was heard.
    pub fn nothing_heard(&self) -> bool {
        self.state == RunState::Missed && self.cause.starts_with(NOTHING)
    }

    /// What else was heard in its time, in words.
    fn covered(&self, signals: &[Heard]) -> String {
        let there = |h: &&Heard| h.first < self.ends && h.last > self.begins;
        let longest = |h: &&Heard| {
            h.last
                .min(self.ends)
                .duration_since(h.first.max(self.begins))
        };
        match signals.iter().filter(there).max_by_key(longest) {
            Some(other) => format!(
                "; heard instead: a shift of {:.0} Hz at {:.0} baud",
                other.shift_hz, other.rate_baud
            ),
            None => String::new(),
        }
    }
}
