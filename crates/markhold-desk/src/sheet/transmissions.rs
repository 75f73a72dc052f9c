//! Which signals are one transmission: a deep fade or a pause ends a signal for the receiver, and what
//! it finds there again has another name. On paper it goes on, under one heading.

use markhold_event::{Sense, Signal, SignalId};

/// Silence after which somebody begins anew, s: fades and pauses of one who types are shorter.
const SILENT_S: f64 = 60.0;
/// Both tones are where they were within this, Hz: what a receiver drifts in that time, and two
/// finds differ.
const SAME_HZ: f64 = 25.0;
/// And the rate within this share: 45.45, 50 and 56.9 baud are told apart.
const SAME_RATE: f64 = 0.03;
/// So many latest signals are remembered: those of which there is paper.
const LATEST: usize = 400;

/// A signal as it was heard last.
#[derive(Clone, Copy, Debug)]
struct Heard {
    signal: SignalId,
    /// The first signal of its transmission.
    first: SignalId,
    tones_hz: [f64; 2],
    rate_baud: f64,
    sense: Sense,
    until_s: f64,
}

/// Tells transmissions from signals.
#[derive(Clone, Debug, Default)]
pub struct Transmissions {
    // state
    latest: Vec<Heard>,
}

impl Transmissions {
    /// A signal was found, or has ended.
    pub fn know(&mut self, signal: &Signal) {
        let known = self.latest.iter().position(|h| h.signal == signal.id);
        let first = match known.map(|place| self.latest.remove(place)) {
            Some(heard) => heard.first,
            None => self.goes_on(signal).unwrap_or(signal.id),
        };
        let over = (self.latest.len() + 1).saturating_sub(LATEST);
        self.latest.drain(..over);
        self.latest.push(Heard {
            signal: signal.id,
            first,
            tones_hz: [signal.mark_hz, signal.space_hz],
            rate_baud: signal.rate_baud,
            sense: signal.sense,
            until_s: signal.until_s,
        });
    }

    /// The first signal of the transmission that a signal is of.
    pub fn first(&self, signal: SignalId) -> SignalId {
        let heard = self.latest.iter().find(|h| h.signal == signal);
        heard.map_or(signal, |h| h.first)
    }

    /// The transmission that goes on with this signal, by its first one.
    fn goes_on(&self, signal: &Signal) -> Option<SignalId> {
        let tones_hz = [signal.mark_hz, signal.space_hz];
        let is_it = |h: &&Heard| {
            (0..2).all(|k| (h.tones_hz[k] - tones_hz[k]).abs() < SAME_HZ)
                && (h.rate_baud / signal.rate_baud - 1.0).abs() < SAME_RATE
                && h.sense == signal.sense
                && signal.begin_s - h.until_s < SILENT_S
        };
        let before = self.latest.iter().filter(is_it);
        let latest = before.max_by(|a, b| a.until_s.total_cmp(&b.until_s));
        latest.map(|h| h.first)
    }
}
