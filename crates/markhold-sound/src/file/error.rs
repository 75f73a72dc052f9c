//! What ends the reading or writing of sound.

use super::{MAX_CHANNELS, MAX_RATE, MIN_RATE};

/// Why sound could not be read or written. Each message says what was found, what was
/// expected and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SoundError {
    /// No file has this name.
    #[error("no such file; check the name and the folder")]
    NotFound,
    /// The file may not be read (or written) by this user.
    #[error("access is denied; ask its owner for permission or copy it to a folder of your own")]
    NoPermission,
    /// A folder was named instead of a file.
    #[error("this is a folder, a sound file was expected; name the files in it")]
    IsFolder,
    /// The file or pipe holds not one byte.
    #[error("empty: not one byte to read; record or copy the file again")]
    Empty,
    /// The content is no sound known here.
    #[error(
        "not a sound file: it looks like {looks_like}; expected WAV, FLAC or Ogg Vorbis \
         (bare samples need their rate and format stated)"
    )]
    NotSound {
        /// What the first bytes look like.
        looks_like: String,
    },
    /// A sound file whose compression is not read here.
    #[error("the sound is stored as {found}, which is not read here; convert it to WAV or FLAC")]
    Encoding {
        /// The name of the compression and, for WAV, its format tag.
        found: String,
    },
    /// The sample rate is 0 or cannot be worked with.
    #[error(
        "the sample rate is {found} Hz, expected {MIN_RATE} to {MAX_RATE} Hz; \
         {}", if *.found == 0 { "the header is damaged: read it as raw samples of a stated rate" }
              else { "convert the file to a rate in this range" }
    )]
    Rate {
        /// The rate stated, Hz.
        found: u64,
    },
    /// No channel, or more than can be real.
    #[error(
        "the file states {found} channels, expected 1 to {MAX_CHANNELS}; the header is damaged, \
         or the file must be split into fewer channels"
    )]
    ChannelCount {
        /// The number of channels stated.
        found: u64,
    },
    /// A channel was asked for that the file does not have.
    #[error(
        "channel {asked} was asked for, the sound has {}; choose channel 1{}",
        channels_in_words(*.available),
        if *.available > 1 { format!(" to {available}") } else { String::new() }
    )]
    NoSuchChannel {
        /// The channel asked for, counted from 1.
        asked: u16,
        /// How many channels there are.
        available: u16,
    },
    /// The header contradicts itself or ends early.
    #[error("the header is damaged: {detail}; record or copy the file again")]
    Header {
        /// What was found and what was expected.
        detail: String,
    },
    /// The header is sound, but no sample follows it.
    #[error("no samples after the header: the recording was begun but nothing was stored")]
    NoSamples,
    /// The data broke off in a way that cannot be skipped.
    #[error(
        "damaged {at_s:.1} s after the beginning ({detail}); what came before was read, \
         copy the file again for the rest"
    )]
    Damaged {
        /// Seconds of sound read before the damage.
        at_s: f64,
        /// What the decoder found.
        detail: String,
    },
    /// A pipe without anybody at its other end.
    #[error("{0}")]
    Nobody(std::io::Error),
    /// There is no room for what is written.
    #[error("the disk is full; make room on it")]
    DiskFull,
    /// The system refused to read or write.
    #[error("the system says: {0}")]
    Io(std::io::Error),
}

impl From<std::io::Error> for SoundError {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::NotFound => SoundError::NotFound,
            std::io::ErrorKind::PermissionDenied => SoundError::NoPermission,
            std::io::ErrorKind::IsADirectory => SoundError::IsFolder,
            std::io::ErrorKind::TimedOut => SoundError::Nobody(error),
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                SoundError::DiskFull
            }
            _ => SoundError::Io(error),
        }
    }
}

fn channels_in_words(count: u16) -> String {
    match count {
        1 => "one channel".to_string(),
        n => format!("{n} channels"),
    }
}

/// Checks a stated rate. Errors: [`SoundError::Rate`].
pub(super) fn check_rate(found: u64) -> Result<u32, SoundError> {
    match u32::try_from(found) {
        Ok(rate) if (MIN_RATE..=MAX_RATE).contains(&rate) => Ok(rate),
        _ => Err(SoundError::Rate { found }),
    }
}

/// Checks a stated number of channels. Errors: [`SoundError::ChannelCount`].
pub(super) fn check_channels(found: u64) -> Result<u16, SoundError> {
    match u16::try_from(found) {
        Ok(count) if (1..=MAX_CHANNELS).contains(&count) => Ok(count),
        _ => Err(SoundError::ChannelCount { found }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_inclusive() {
        assert_eq!(check_rate(6_000).unwrap(), 6_000);
        assert_eq!(check_rate(192_000).unwrap(), 192_000);
        assert_eq!(check_channels(32).unwrap(), 32);
        for rate in [0, 5_999, 192_001, u64::MAX] {
            assert!(matches!(check_rate(rate), Err(SoundError::Rate { found }) if found == rate));
        }
        for count in [0, 33, 64, u64::MAX] {
            assert!(check_channels(count).is_err());
        }
    }

    #[test]
    fn messages_carry_the_numbers() {
        let text = SoundError::NoSuchChannel {
            asked: 3,
            available: 2,
        }
        .to_string();
        assert!(
            text.contains("channel 3") && text.contains("2 channels") && text.contains("1 to 2")
        );
        let text = check_channels(64).unwrap_err().to_string();
        assert!(text.contains("64 channels") && text.contains("1 to 32"));
        let text = check_rate(0).unwrap_err().to_string();
        assert!(text.contains("0 Hz") && text.contains("6000 to 192000"));
    }
}
