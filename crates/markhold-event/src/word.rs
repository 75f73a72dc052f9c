//! Values that are written as a word: `#[serde(with = "markhold_event::word")]` for what
//! has a [`Display`] and a [`FromStr`], and `word::option` for one that may be missing.

use serde::{Deserialize, Deserializer, Serializer, de::Error};
use std::fmt::Display;
use std::str::FromStr;

/// Writes the word.
pub fn serialize<T: Display, S: Serializer>(value: &T, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(value)
}

/// Reads the word. Errors: another word; the message names those that are known.
pub fn deserialize<'de, T, D>(from: D) -> Result<T, D::Error>
where
    T: FromStr<Err: Display>,
    D: Deserializer<'de>,
{
    let word = String::deserialize(from)?;
    word.parse().map_err(D::Error::custom)
}

/// A word or null.
pub mod option {
    use super::*;

    /// Writes the word, or null.
    pub fn serialize<T: Display, S: Serializer>(
        value: &Option<T>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        match value {
            Some(value) => to.collect_str(value),
            None => to.serialize_none(),
        }
    }

    /// Reads a word, or null.
    pub fn deserialize<'de, T, D>(from: D) -> Result<Option<T>, D::Error>
    where
        T: FromStr<Err: Display>,
        D: Deserializer<'de>,
    {
        let word = Option::<String>::deserialize(from)?;
        word.map(|word| word.parse().map_err(D::Error::custom))
            .transpose()
    }
}
