//! Bare samples, described by the caller.

use super::error::{check_channels, check_rate};
use super::{Encoding, SoundError};
use std::str::FromStr;

/// What bare samples are: nothing in the data says it, so the caller must.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RawFormat {
    /// Samples per second and channel, Hz.
    pub rate: u32,
    /// How each sample is stored.
    pub encoding: Encoding,
    /// Interleaved channels.
    pub channels: u16,
}

/// Why a description of bare samples was not understood.
#[derive(Debug, thiserror::Error)]
pub enum RawFormatError {
    /// A word that is no rate, format or number of channels.
    #[error(
        "\"{found}\" is not understood, expected RATE[,FORMAT[,CHANNELS]] with FORMAT one of \
         u8, s16le, s24le, s32le, f32le; for example 48000,s16le,2"
    )]
    Word {
        /// The word as given.
        found: String,
    },
    /// A rate or a number of channels out of range.
    #[error(transparent)]
    Range(#[from] SoundError),
}

const NAMES: [(&str, Encoding); 5] = [
    ("u8", Encoding::U8),
    ("s16le", Encoding::S16),
    ("s24le", Encoding::S24),
    ("s32le", Encoding::S32),
    ("f32le", Encoding::F32),
];

impl FromStr for RawFormat {
    type Err = RawFormatError;

    /// Reads `RATE[,FORMAT[,CHANNELS]]`; the format is `s16le` and the channels 1 where
    /// left out.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let words: Vec<&str> = text.split(',').map(str::trim).collect();
        if words.len() > 3 {
            return Err(not_understood(text));
        }
        let encoding = match words.get(1) {
            None => Encoding::S16,
            Some(name) => encoding(name)?,
        };
        Ok(RawFormat {
            rate: check_rate(number(words[0])?)?,
            encoding,
            channels: check_channels(words.get(2).map_or(Ok(1), |w| number(w))?)?,
        })
    }
}

fn number(word: &str) -> Result<u64, RawFormatError> {
    word.parse().map_err(|_| not_understood(word))
}

fn encoding(word: &str) -> Result<Encoding, RawFormatError> {
    let found = NAMES
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(word));
    found.map(|(_, e)| *e).ok_or_else(|| not_understood(word))
}

fn not_understood(word: &str) -> RawFormatError {
    RawFormatError::Word {
        found: word.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_is_given_and_fills_in_the_rest() {
        let format: RawFormat = "48000".parse().unwrap();
        assert_eq!(
            (format.rate, format.encoding, format.channels),
            (48_000, Encoding::S16, 1)
        );
        let format: RawFormat = "12000, F32LE, 2".parse().unwrap();
        assert_eq!(
            (format.rate, format.encoding, format.channels),
            (12_000, Encoding::F32, 2)
        );
    }

    #[test]
    fn refuses_with_the_word_in_the_message() {
        for (text, word) in [
            ("", "\"\""),
            ("fast", "\"fast\""),
            ("-1", "\"-1\""),
            ("48000,s17le", "\"s17le\""),
            ("48000,s16le,two", "\"two\""),
            ("48000,s16le,1,1", "\"48000,s16le,1,1\""),
            ("0", "0 Hz"),
            ("5000", "5000 Hz"),
            ("48000,u8,64", "64 channels"),
        ] {
            let message = text.parse::<RawFormat>().unwrap_err().to_string();
            assert!(message.contains(word), "{text}: {message}");
        }
    }
}
