//! Who asks, and what may be asked of answering.

use super::lock;
use markhold_wire::transmit::TonesFrom;
use serde::{Deserialize, Serialize};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// One page of one browser, for as long as its link lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Hand(u64);

impl Hand {
    /// One that is like no other.
    #[allow(clippy::new_without_default, reason = "no two are alike")]
    pub fn new() -> Self {
        static NEXT: AtomicU64 = AtomicU64::new(1);
        Hand(NEXT.fetch_add(1, Ordering::Relaxed))
    }
}

/// What a person is told and means all the same if they ask again: which hand was told last, and when.
#[derive(Debug, Default)]
pub(super) struct Doubt(Mutex<Option<(Hand, Instant)>>);

impl Doubt {
    /// Whether a hand asks for the second time within so long; that it asks now is remembered.
    pub fn asks_again(&self, hand: Hand, within: Duration) -> bool {
        let now = Instant::now();
        let before = lock(&self.0).replace((hand, now));
        before.is_some_and(|(one, at)| one == hand && now - at < within)
    }

    /// As if nobody had been told.
    #[cfg(test)]
    pub fn forget(&self) {
        *lock(&self.0) = None;
    }
}

impl Answer {
    /// Whether the transmitter is keyed by it, if it is not yet.
    pub fn keys(&self) -> bool {
        matches!(self, Answer::Go | Answer::GoAndEnd | Answer::Loop { .. })
    }
}

/// What a page may ask, as JSON `{"do": ..., "with": ...}`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", content = "with", rename_all = "kebab-case")]
pub enum Answer {
    /// A person arms it.
    Arm {
        /// The station's call, typed.
        call: String,
        /// For so long, minutes, 0.5 to 60.
        minutes: f64,
        /// Whose tones go out; left out = as the settings have it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tones: Option<TonesFrom>,
    },
    /// From the next over on these tones go out.
    Tones(TonesFrom),
    /// It is off from here on.
    Disarm,
    /// The page that armed it is still there.
    Here,
    /// What waits is this now.
    Write {
        /// Characters that had gone when it was written.
        gone: u64,
        /// Characters typed at the machine that it has in it; left out = all there are.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        typed: Option<u64>,
        /// All that is to follow them.
        text: String,
    },
    /// Key and send what waits, or go on after a pause.
    Go,
    /// The same, and unkey when nothing waits any more.
    GoAndEnd,
    /// Send nothing more for now; the transmitter stays keyed.
    Pause,
    /// Send to the end of the line, then unkey.
    Finish,
    /// Send this again and again, as a loop of tape, until it is stopped, paused, ended or
    /// something else is written.
    Loop {
        /// The text.
        text: String,
        /// Between two overs, s, 1 to 600.
        pause_s: f64,
    },
    /// Unkey at once; it is off from here on.
    Stop,
}
