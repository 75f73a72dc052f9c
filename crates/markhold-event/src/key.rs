//! A character among those of all stations.

use crate::{CharacterId, SignalId};
use std::fmt;
use std::str::FromStr;

/// Names a station: drawn by chance when its archive is made, kept with it, and told to
/// nobody who is not given copy. It says nothing of who or where the station is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StationId(pub u64);

/// Names a character: no other one, of any signal, evening or station, has the same key.
/// All readings of it share it. Written `station.evening.signal.character`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key {
    /// Whose archive keeps it.
    pub station: StationId,
    /// The evening's name in that archive.
    pub evening: i64,
    /// The signal's number in the evening.
    pub signal: SignalId,
    /// The character.
    pub character: CharacterId,
}

/// What is no key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyError {
    /// What was found.
    pub found: String,
}

impl fmt::Display for KeyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "\"{}\" names no character; give station.evening.signal.character, such as \
             00c5d2a9313b77e0.12.1.4711",
            self.found
        )
    }
}

impl std::error::Error for KeyError {}

impl fmt::Display for StationId {
    /// Sixteen hexadecimal digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Key {
            station,
            evening,
            signal,
            character,
        } = self;
        write!(f, "{station}.{evening}.{}.{}", signal.0, character.0)
    }
}

impl FromStr for Key {
    type Err = KeyError;

    fn from_str(text: &str) -> Result<Self, KeyError> {
        parsed(text).ok_or_else(|| KeyError {
            found: text.to_string(),
        })
    }
}

fn parsed(text: &str) -> Option<Key> {
    let mut parts = text.split('.');
    let station = parts.next().filter(|digits| digits.len() == 16)?;
    let key = Key {
        station: StationId(u64::from_str_radix(station, 16).ok()?),
        evening: parts.next()?.parse().ok()?,
        signal: SignalId(parts.next()?.parse().ok()?),
        character: CharacterId(parts.next()?.parse().ok()?),
    };
    // One key has one form: no signs, no leading zeros, no capitals.
    (parts.next().is_none() && key.to_string() == text).then_some(key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_key_is_read_as_it_was_written(
            station: u64, evening: i64, signal: u32, character: u32,
        ) {
            let key = Key {
                station: StationId(station),
                evening,
                signal: SignalId(signal),
                character: CharacterId(character),
            };
            prop_assert_eq!(key.to_string().parse(), Ok(key));
        }
    }

    #[test]
    fn what_is_no_key_is_said() {
        let right = "00c5d2a9313b77e0.12.1.4711";
        assert!(right.parse::<Key>().is_ok());
        for wrong in ["", "1.2.3.4", &right[1..], &right.replace("12", "+12")] {
            let error = wrong.parse::<Key>().expect_err(wrong);
            assert!(error.to_string().contains(&format!("\"{wrong}\"")));
        }
        for longer in [".5", ".", " "] {
            assert!(format!("{right}{longer}").parse::<Key>().is_err());
        }
    }
}
