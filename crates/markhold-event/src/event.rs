//! One thing told, and the order in which things are.

use crate::{Character, Signal, SignalId};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

/// Version of the form in which events are written. Fields may be added without a new one;
/// a reader passes over what it does not know. It rises when a field changes its meaning.
pub const VERSION: u32 = 1;

/// What the receiver reports.
///
/// Of each signal, [`Event::Found`] comes first and [`Event::Ended`] last; early readings
/// come in order of their starts, decided characters and unlikely ones together in order of
/// their ids. Once a character is decided, or the signal ended, every early reading with a
/// lower id (or any, at the end) that was not decided was an error: no character was there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(into = "EventForm", from = "EventForm")]
pub enum Event {
    /// A signal was found; its characters follow.
    Found(Signal),
    /// A first reading of a character, for those who cannot wait; the decided one follows
    /// some seconds later under the same id, or the early one was an error. Only where first
    /// readings are asked for.
    Early(Character),
    /// A character was decided.
    Character(Character),
    /// A reading that nothing vouched for, more likely noise than a character; it is part of
    /// no copy. For those who weigh it against another copy. Only where such are asked for.
    Unlikely(Character),
    /// A signal ended; nothing more comes with its name. Holds the final measurements.
    Ended(Signal),
}

impl Event {
    /// Of which signal it is.
    pub fn signal(&self) -> SignalId {
        match self {
            Event::Found(signal) | Event::Ended(signal) => signal.id,
            Event::Early(c) | Event::Character(c) | Event::Unlikely(c) => c.signal,
        }
    }

    /// The same, told of a sound whose origin lies `origin_s` earlier and in which `signals`
    /// names of signals were given out before. This is the only place where times change
    /// their origin: from a receiver's first sample to the begin of live listening or of the
    /// evening, and back.
    pub fn placed(self, origin_s: f64, signals: u32) -> Self {
        match self {
            Event::Found(signal) => Event::Found(signal.placed(origin_s, signals)),
            Event::Ended(signal) => Event::Ended(signal.placed(origin_s, signals)),
            Event::Early(c) => Event::Early(c.placed(origin_s, signals)),
            Event::Character(c) => Event::Character(c.placed(origin_s, signals)),
            Event::Unlikely(c) => Event::Unlikely(c.placed(origin_s, signals)),
        }
    }
}

impl Signal {
    /// The same where times count from an origin `origin_s` earlier and `signals` names were
    /// given out before.
    pub fn placed(mut self, origin_s: f64, signals: u32) -> Self {
        self.id.0 += signals;
        self.begin_s += origin_s;
        self.until_s += origin_s;
        self
    }
}

impl Character {
    /// The same where times count from an origin `origin_s` earlier and `signals` names were
    /// given out before. It keeps its id.
    pub fn placed(mut self, origin_s: f64, signals: u32) -> Self {
        self.signal.0 += signals;
        self.start_s += origin_s;
        self
    }
}

/// What is told, with the version of its form.
#[derive(Clone, Serialize, Deserialize)]
struct Told<T> {
    #[serde(default)]
    version: Version,
    #[serde(flatten)]
    told: T,
}

/// The version of a form. What was written before there were versions counts as 1.
#[derive(Clone, Copy)]
struct Version(u32);

impl Default for Version {
    fn default() -> Self {
        Version(1)
    }
}

impl Serialize for Version {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u32(self.0)
    }
}

impl<'de> Deserialize<'de> for Version {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let found = u32::deserialize(from)?;
        if !(1..=VERSION).contains(&found) {
            return Err(D::Error::custom(format!(
                "an event of form version {found}, this program knows versions up to {VERSION}: \
                 a newer markhold wrote it; update this one"
            )));
        }
        Ok(Version(found))
    }
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum EventForm {
    Signal(Told<Signal>),
    Early(Told<Character>),
    Character(Told<Character>),
    Unlikely(Told<Character>),
    End(Told<Signal>),
}

fn told<T>(told: T) -> Told<T> {
    Told {
        version: Version(VERSION),
        told,
    }
}

impl From<Event> for EventForm {
    fn from(event: Event) -> Self {
        match event {
            Event::Found(signal) => EventForm::Signal(told(signal)),
            Event::Early(character) => EventForm::Early(told(character)),
            Event::Character(character) => EventForm::Character(told(character)),
            Event::Unlikely(character) => EventForm::Unlikely(told(character)),
            Event::Ended(signal) => EventForm::End(told(signal)),
        }
    }
}

impl From<EventForm> for Event {
    fn from(form: EventForm) -> Self {
        match form {
            EventForm::Signal(signal) => Event::Found(signal.told),
            EventForm::Early(character) => Event::Early(character.told),
            EventForm::Character(character) => Event::Character(character.told),
            EventForm::Unlikely(character) => Event::Unlikely(character.told),
            EventForm::End(signal) => Event::Ended(signal.told),
        }
    }
}
