//! One receiver's sound heard alone: its signals, and how each can be followed.

use std::collections::BTreeMap;

use super::timing::Beat;
use crate::event::{Event, Signal, SignalId};
use crate::pair::follower::PairStart;
use crate::receiver::Receiver;
use crate::settings::{LanguageUse, Settings, SettingsError};

/// How often is noted how a signal could be followed, s.
const NOTED_S: f64 = 4.0;

/// What one signal of one receiver's sound was.
#[derive(Clone, Debug)]
pub(super) struct Signalled {
    pub signal: Signal,
    pub beats: Vec<Beat>,
    /// How it could be followed from some instants on.
    pub pairs: Vec<PairStart>,
}

/// What was noted of a signal so far.
#[derive(Default)]
struct Noted {
    signal: Option<Signal>,
    beats: Vec<Beat>,
    pairs: Vec<PairStart>,
}

/// What was heard of one receiver's sound.
#[derive(Clone, Debug)]
pub struct Listened {
    /// Samples a second.
    pub(super) rate_hz: f64,
    pub(super) signals: Vec<Signalled>,
}

/// Hears one receiver's sound alone.
pub struct Listener {
    // configured
    rate_hz: f64,
    // state
    receiver: Receiver,
    samples: u64,
    noted: u64,
    signals: BTreeMap<SignalId, Noted>,
}

impl Listener {
    /// For sound of `sample_rate` samples a second, 6000 to 192 000; every signal that the
    /// settings ask for is heard.
    pub fn new(sample_rate: f64, settings: &Settings) -> Result<Self, SettingsError> {
        let settings = Settings {
            all: true,
            early: false,
            unlikely: false,
            language: LanguageUse::Off,
            ..settings.clone()
        };
        Ok(Self {
            rate_hz: sample_rate,
            receiver: Receiver::new(sample_rate, settings)?,
            samples: 0,
            noted: 0,
            signals: BTreeMap::new(),
        })
    }

    /// Takes samples, full scale 1.0.
    pub fn process(&mut self, samples: &[f32]) {
        let mut events = Vec::new();
        self.receiver.process(samples, &mut |e| events.push(e));
        self.samples += samples.len() as u64;
        self.take(events);
        let now = self.samples as f64 / self.rate_hz / NOTED_S;
        if now as u64 > self.noted {
            self.noted = now as u64;
            for (id, pair) in self.receiver.pairs() {
                self.signals.entry(id).or_default().pairs.push(pair);
            }
        }
    }

    /// The sound has ended.
    pub fn finish(mut self) -> Listened {
        let pairs: Vec<(SignalId, PairStart)> = self.receiver.pairs().collect();
        for (id, pair) in pairs {
            self.signals.entry(id).or_default().pairs.push(pair);
        }
        let mut events = Vec::new();
        self.receiver.finish(&mut |e| events.push(e));
        self.take(events);
        let told = |noted: Noted| {
            let Noted {
                signal,
                beats,
                pairs,
            } = noted;
            let signal = signal.filter(|_| !beats.is_empty() && !pairs.is_empty())?;
            Some(Signalled {
                signal,
                beats,
                pairs,
            })
        };
        Listened {
            rate_hz: self.rate_hz,
            signals: self.signals.into_values().filter_map(told).collect(),
        }
    }

    fn take(&mut self, events: Vec<Event>) {
        for event in events {
            match event {
                Event::Found(signal) | Event::Ended(signal) => {
                    let id = signal.id;
                    self.signals.entry(id).or_default().signal = Some(signal);
                }
                Event::Character(c) => {
                    let beats = &mut self.signals.entry(c.signal).or_default().beats;
                    beats.push(Beat::of(&c));
                }
                Event::Early(_) | Event::Unlikely(_) => {}
            }
        }
    }
}

impl Signalled {
    /// How it can be followed from an instant of its own time on: as was noted next.
    pub fn pair_at(&self, at_s: f64) -> PairStart {
        let next = self.pairs.iter().find(|p| p.at_s >= at_s);
        // There is one: signals without are none.
        let pair = next.or(self.pairs.last()).cloned();
        PairStart {
            at_s,
            ..pair.unwrap_or(PairStart {
                at_s,
                rate_baud: self.signal.rate_baud,
                mark_hz: self.signal.mark_hz,
                space_hz: self.signal.space_hz,
                power: [1.0; 2],
                noise: [1.0; 2],
            })
        }
    }

    /// When it was heard first and last, s of its own time.
    pub fn heard_s(&self) -> (f64, f64) {
        let first = self.beats.first().map_or(0.0, |b| b.at_s);
        (first, self.beats.last().map_or(0.0, |b| b.at_s))
    }

    /// How much it says, bits.
    pub fn information(&self) -> f32 {
        self.beats.iter().map(Beat::information).sum()
    }
}
