//! The broadcast extension chunk: when and by whom a recording was made.
//!
//! Layout after EBU Tech 3285 version 1, fixed part 602 bytes:
//!
//! ```text
//! Description 256 | Originator 32 | OriginatorReference 32 | OriginationDate 10 |
//! OriginationTime 8 | TimeReference 8 | Version 2 | UMID 64 | Reserved 190
//! ```
//!
//! The standard names no time zone; the writer here always gives UTC and says so in the
//! description.

use jiff::civil;

/// Bytes of the fixed part; the coding history that may follow is not used.
pub(super) const BEXT_BYTES: usize = 602;

const DESCRIPTION: std::ops::Range<usize> = 0..256;
const ORIGINATOR: std::ops::Range<usize> = 256..288;
const DATE: std::ops::Range<usize> = 320..330;
const TIME: std::ops::Range<usize> = 330..338;
const TIME_REFERENCE: std::ops::Range<usize> = 338..346;
const VERSION: std::ops::Range<usize> = 346..348;

/// When a recording began, as its file states it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeStamp {
    /// Date and time to the second; UTC in files written here, otherwise whatever the
    /// recorder's clock showed.
    pub begin: civil::DateTime,
    /// Samples from midnight to the first sample; finer than `begin`, but 0 in files of
    /// recorders that leave it out.
    pub samples_since_midnight: u64,
}

impl TimeStamp {
    /// The beginning with the fraction of the second that the sample count tells.
    ///
    /// `rate` is the sample rate, Hz. Gives `begin` where the count contradicts the clock
    /// by more than a second.
    pub fn begin_exact(&self, rate: u32) -> civil::DateTime {
        let rate = u128::from(rate.max(1));
        let nanos = u128::from(self.samples_since_midnight) * 1_000_000_000 / rate;
        let clock = self.begin.time().duration_since(civil::Time::midnight());
        let Ok(nanos) = i64::try_from(nanos) else {
            return self.begin;
        };
        let fraction = jiff::SignedDuration::from_nanos(nanos) - clock;
        if (0..=1).contains(&fraction.as_secs()) && !fraction.is_negative() {
            self.begin.checked_add(fraction).unwrap_or(self.begin)
        } else {
            self.begin
        }
    }
}

/// What the chunk says.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Bext {
    /// What was recorded; at most 256 ASCII characters are kept.
    pub description: String,
    /// Who or what made the recording; at most 32 ASCII characters are kept.
    pub originator: String,
    /// When it began; `None` where the file holds no readable date.
    pub time_stamp: Option<TimeStamp>,
}

impl Bext {
    /// A chunk for a recording that begins at `begin`; `rate` is its sample rate, Hz.
    pub fn at(begin: jiff::Timestamp, rate: u32, description: &str, originator: &str) -> Self {
        let utc = jiff::tz::Offset::UTC.to_datetime(begin);
        let midnight = utc.time().duration_since(civil::Time::midnight());
        let samples = midnight.as_nanos().unsigned_abs() * u128::from(rate) / 1_000_000_000;
        Bext {
            description: description.to_string(),
            originator: originator.to_string(),
            time_stamp: Some(TimeStamp {
                begin: utc.with().subsec_nanosecond(0).build().unwrap_or(utc),
                samples_since_midnight: u64::try_from(samples).unwrap_or(0),
            }),
        }
    }

    /// Reads the fixed part; what is missing at its end reads as zero.
    pub(super) fn parse(bytes: &[u8]) -> Self {
        let mut fixed = [0; BEXT_BYTES];
        let count = bytes.len().min(BEXT_BYTES);
        fixed[..count].copy_from_slice(&bytes[..count]);
        let mut reference = [0; 8];
        reference.copy_from_slice(&fixed[TIME_REFERENCE]);
        let begin = numbers(&fixed[DATE]).zip(numbers(&fixed[TIME]));
        let begin = begin.and_then(|(d, t)| {
            let (year, month) = (i16::try_from(d[0]).ok()?, i8::try_from(d[1]).ok()?);
            let date = civil::Date::new(year, month, i8::try_from(d[2]).ok()?).ok()?;
            let (hour, minute) = (i8::try_from(t[0]).ok()?, i8::try_from(t[1]).ok()?);
            let time = civil::Time::new(hour, minute, i8::try_from(t[2]).ok()?, 0).ok()?;
            Some(date.to_datetime(time))
        });
        Bext {
            description: text(&fixed[DESCRIPTION]),
            originator: text(&fixed[ORIGINATOR]),
            time_stamp: begin.map(|begin| TimeStamp {
                begin,
                samples_since_midnight: u64::from_le_bytes(reference),
            }),
        }
    }

    /// The fixed part as bytes.
    pub(super) fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = vec![0; BEXT_BYTES];
        put(&mut bytes[DESCRIPTION], &self.description);
        put(&mut bytes[ORIGINATOR], &self.originator);
        if let Some(stamp) = &self.time_stamp {
            let begin = stamp.begin;
            put(&mut bytes[DATE], &begin.date().to_string());
            let (h, m, s) = (begin.hour(), begin.minute(), begin.second());
            put(&mut bytes[TIME], &format!("{h:02}:{m:02}:{s:02}"));
            bytes[TIME_REFERENCE].copy_from_slice(&stamp.samples_since_midnight.to_le_bytes());
        }
        bytes[VERSION].copy_from_slice(&1u16.to_le_bytes());
        bytes
    }
}

/// Three numbers between any separators: recorders write `-`, `:`, `.`, `_` and spaces.
fn numbers(bytes: &[u8]) -> Option<[u32; 3]> {
    let mut found = bytes
        .split(|b| !b.is_ascii_digit())
        .filter(|digits| !digits.is_empty())
        .map(|digits| std::str::from_utf8(digits).ok()?.parse().ok());
    let three = [found.next()??, found.next()??, found.next()??];
    found.next().is_none().then_some(three)
}

fn text(bytes: &[u8]) -> String {
    let end = bytes.iter().position(|b| *b == 0).unwrap_or(bytes.len());
    String::from_utf8_lossy(&bytes[..end]).trim().to_string()
}

/// Puts text into a field; the standard allows ASCII only.
fn put(field: &mut [u8], text: &str) {
    for (byte, c) in field.iter_mut().zip(text.chars()) {
        *byte = if c.is_ascii() && !c.is_ascii_control() {
            c as u8
        } else {
            b'?'
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evening() -> jiff::Timestamp {
        "2026-03-21T19:30:05.25Z".parse().unwrap()
    }

    #[test]
    fn fields_stand_where_the_standard_puts_them() {
        let bytes = Bext::at(evening(), 48_000, "Bulletin", "markhold").to_bytes();
        assert_eq!(bytes.len(), 602);
        assert_eq!(&bytes[..9], b"Bulletin\0");
        assert_eq!(&bytes[256..264], b"markhold");
        assert_eq!(&bytes[320..338], b"2026-03-2119:30:05");
        // 19 h 30 min 5.25 s after midnight.
        let samples = (19 * 3600 + 30 * 60 + 5) * 48_000 + 12_000u64;
        assert_eq!(bytes[338..346], samples.to_le_bytes());
        assert_eq!(&bytes[346..348], [1, 0]);
    }

    #[test]
    fn reads_back_what_it_wrote_to_the_fraction() {
        let bext = Bext::at(evening(), 48_000, "Bulletin", "markhold");
        assert_eq!(Bext::parse(&bext.to_bytes()), bext);
        let stamp = bext.time_stamp.unwrap();
        let exact = stamp.begin_exact(48_000);
        assert_eq!(exact.to_string(), "2026-03-21T19:30:05.25");
        assert_eq!(stamp.begin_exact(8_000), stamp.begin);
    }

    #[test]
    fn other_separators_and_bad_dates() {
        let mut bytes = vec![0; 602];
        bytes[DATE].copy_from_slice(b"2026_03_21");
        bytes[TIME].copy_from_slice(b"19.30.05");
        let stamp = Bext::parse(&bytes).time_stamp.unwrap();
        assert_eq!(stamp.begin.to_string(), "2026-03-21T19:30:05");
        for bad in [b"2026-13-21", b"9999999999", b"yesterday!", b"2026-02-30"] {
            bytes[DATE].copy_from_slice(bad);
            assert_eq!(Bext::parse(&bytes).time_stamp, None);
        }
        assert_eq!(Bext::parse(&[]).time_stamp, None);
    }
}
