//! How the live path's types are written as JSON; signals and characters as everywhere
//! ([`markhold_shelf::objects`]).

use markhold_code::FiguresRow;
use markhold_receive::event::{Character, Event, Sense, Signal};
use markhold_receive::settings::LanguageUse;
use markhold_shelf::objects::{self, CharacterObject, SignalObject};
use serde::{Serialize, Serializer};

/// `Option<Sense>` as "lower", "higher" or null.
pub mod sense {
    use super::*;
    use serde::{Deserialize, Deserializer, de::Error};

    pub fn serialize<S: Serializer>(sense: &Option<Sense>, to: S) -> Result<S::Ok, S::Error> {
        sense.map(objects::sense).serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Sense>, D::Error> {
        match Option::<String>::deserialize(from)?.as_deref() {
            None => Ok(None),
            Some("lower") => Ok(Some(Sense::LowerTone)),
            Some("higher") => Ok(Some(Sense::HigherTone)),
            Some(other) => Err(D::Error::custom(format!(
                "which tone is mark is given as \"{other}\"; give \"lower\" or \"higher\""
            ))),
        }
    }
}

/// `LanguageUse` as "off", "mark" or "on".
pub mod language {
    use super::*;
    use serde::{Deserialize, Deserializer, de::Error};

    pub fn serialize<S: Serializer>(language: &LanguageUse, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(objects::language(*language))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<LanguageUse, D::Error> {
        let word = String::deserialize(from)?;
        objects::language_named(&word).ok_or_else(|| {
            D::Error::custom(format!(
                "language \"{word}\"; give \"off\", \"mark\" or \"on\""
            ))
        })
    }
}

/// `FiguresRow` as "ITA2" or "US".
pub mod row {
    use super::*;
    use serde::{Deserialize, Deserializer, de::Error};

    pub fn serialize<S: Serializer>(row: &FiguresRow, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(row)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<FiguresRow, D::Error> {
        let word = String::deserialize(from)?;
        [FiguresRow::Ita2, FiguresRow::Us]
            .into_iter()
            .find(|row| row.to_string().eq_ignore_ascii_case(&word))
            .ok_or_else(|| {
                D::Error::custom(format!("figures row \"{word}\"; give \"ITA2\" or \"US\""))
            })
    }
}

/// A time on the clock as text of RFC 3339.
pub fn timestamp<S: Serializer>(at: &jiff::Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(at)
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum EventObject {
    Signal(SignalObject),
    Early(CharacterObject),
    Character(CharacterObject),
    End(SignalObject),
}

/// An event as one object with its `type`: "signal", "early", "character", "end".
pub fn event<S: Serializer>(event: &Event, to: S) -> Result<S::Ok, S::Error> {
    match event {
        Event::Found(signal) => EventObject::Signal(signal.into()),
        Event::Early(character) => EventObject::Early(character.into()),
        Event::Character(character) => EventObject::Character(character.into()),
        Event::Ended(signal) => EventObject::End(signal.into()),
    }
    .serialize(to)
}

/// A signal as an object.
pub fn signal<S: Serializer>(signal: &Signal, to: S) -> Result<S::Ok, S::Error> {
    SignalObject::from(signal).serialize(to)
}

/// Signals as a list of objects.
pub fn signals<'a, S: Serializer>(
    signals: impl IntoIterator<Item = &'a Signal>,
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_seq(signals.into_iter().map(SignalObject::from))
}

/// Characters as a list of objects.
pub fn characters<'a, S: Serializer>(
    characters: impl IntoIterator<Item = &'a Character>,
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_seq(characters.into_iter().map(CharacterObject::from))
}
