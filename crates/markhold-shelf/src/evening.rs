//! What is known of an evening, before and after it was kept.

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use markhold_event::StationId;

/// An evening about to be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Evening {
    /// When its first sample was heard, in the station's time zone.
    pub begin: ZonedDateTime,
    /// Where the sound comes from, in words.
    pub input: String,
    /// Sample rate, Hz.
    pub rate: u32,
    /// How the receiver is set; any JSON.
    pub settings: serde_json::Value,
}

/// An evening on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptEvening {
    /// Its name on the shelf; counts up from 1.
    pub id: i64,
    /// Whose evening it is: the shelf's own, or that of the shelf from which its folder came.
    pub station: StationId,
    /// Its name on that shelf.
    pub number: i64,
    /// What it is called: the skeds that were heard in it, in order of time.
    pub names: Vec<String>,
    /// When its first sample was heard, in the time zone it was heard in.
    pub begin: ZonedDateTime,
    /// When it ended; `None` while it is being kept.
    pub end: Option<Timestamp>,
    /// Where the sound came from.
    pub input: String,
    /// How the receiver was set.
    pub settings: serde_json::Value,
    /// Length of the sound that is still there, s.
    pub sound_s: f64,
    /// Bytes of the sound that is still there.
    pub sound_bytes: u64,
    /// Length of the sound that made room for later sound, s.
    pub removed_s: f64,
    /// What is missing.
    pub gaps: Vec<Gap>,
    /// When the computer's clock was set.
    pub clock_steps: Vec<ClockStep>,
    /// Whether its copy may be learned from.
    pub teaches: bool,
    /// The readings of its sound, the live one first.
    pub readings: Vec<Reading>,
    /// Place in `readings` of the one to show: which a person chose, else of those of the whole
    /// evening by a receiver the one that is surest of itself.
    pub best: usize,
}

impl KeptEvening {
    /// The time `seconds` after the first sample, in the station's time zone.
    pub fn time(&self, seconds: f64) -> ZonedDateTime {
        let span = jiff::SignedDuration::try_from_secs_f64(seconds).unwrap_or_default();
        self.begin
            .checked_add(span)
            .unwrap_or_else(|_| self.begin.clone())
    }

    /// The reading to show, if there is any.
    pub fn best_reading(&self) -> Option<&Reading> {
        self.readings.get(self.best)
    }
}

/// One walk of a receiver through the sound of an evening.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its name in the archive.
    pub id: i64,
    /// When it was made.
    pub made: Timestamp,
    /// Which receiver made it.
    pub receiver: String,
    /// How it was set.
    pub settings: serde_json::Value,
    /// Made while the evening was heard, not afterwards from the kept sound.
    pub live: bool,
    /// Heard all sound of the evening.
    pub whole: bool,
    /// Went to its end.
    pub finished: bool,
    /// How far it went, s from the first sample of the evening.
    pub heard_s: f64,
    /// Characters copied.
    pub characters: u64,
    /// How many of them are doubtful.
    pub doubtful: u64,
    /// How many of them language made others, or would have; `None` where that was not
    /// kept.
    pub changed: Option<u64>,
    /// Signals found.
    pub signals: u64,
    /// Until where the receiver had heard the sound when this was written, s; what lies between
    /// it and `heard_s` is not copied.
    pub copied_s: f64,
    /// From here on, s, the sound was copied again after what was copied live; `None` for a
    /// reading of one piece.
    pub again_from_s: Option<f64>,
    /// The reading that a person corrected to make this one; `None` where a receiver made it.
    pub corrects: Option<i64>,
    /// Characters expected to be right less those expected to be wrong, by its own probabilities;
    /// `None` of one that is not finished, or a person's.
    pub certainty: Option<f64>,
}

/// A stretch of an evening whose sound is missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Where it begins, s from the first sample of the evening.
    pub begin_s: f64,
    /// Its length, s; `None` where nobody knows it.
    pub length_s: Option<f64>,
    /// Why.
    pub cause: GapCause,
}

/// The computer's clock was set to another time while an evening was kept. The evening's times
/// go on as before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockStep {
    /// Where, s from the first sample of the evening.
    pub at_s: f64,
    /// By how much it was put forward (back, below 0), s.
    pub by_s: f64,
}

/// Why sound is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum GapCause {
    /// The sound system dropped samples.
    Lost,
    /// The sound device was gone.
    Device,
    /// Listening was stopped: by the person between two inputs, or because the program or
    /// the power ended.
    Stopped,
    /// The disk took sound too slowly; the receiver heard it.
    SlowDisk,
    /// The disk was full; the receiver heard the sound.
    FullDisk,
    /// The disk failed; the receiver heard the sound.
    Disk,
    /// Its file was deleted or moved away while it was written; the receiver heard the sound.
    Deleted,
    /// Anything else, written by a later version.
    Other,
}

impl GapCause {
    const WORDS: [(GapCause, &'static str); 8] = [
        (GapCause::Lost, "lost"),
        (GapCause::Device, "device"),
        (GapCause::Stopped, "stopped"),
        (GapCause::SlowDisk, "slow-disk"),
        (GapCause::FullDisk, "full-disk"),
        (GapCause::Disk, "disk"),
        (GapCause::Deleted, "deleted"),
        (GapCause::Other, "other"),
    ];

    /// Whether the receiver heard the sound that is missing on the shelf.
    pub fn was_heard(self) -> bool {
        !matches!(self, GapCause::Lost | GapCause::Device | GapCause::Stopped)
    }

    /// The cause as one word of the archive and of exports.
    pub fn word(self) -> &'static str {
        let found = Self::WORDS.iter().find(|(cause, _)| *cause == self);
        found.map_or("other", |(_, word)| word)
    }

    pub(super) fn from_word(word: &str) -> Self {
        let found = Self::WORDS.iter().find(|(_, w)| *w == word);
        found.map_or(GapCause::Other, |(cause, _)| *cause)
    }
}

/// The name of a time zone as the archive keeps it: IANA name or offset.
pub(super) fn zone_name(zone: &TimeZone, at: Timestamp) -> String {
    match zone.iana_name() {
        Some(name) => name.to_string(),
        None => zone.to_offset(at).to_string(),
    }
}

/// The zone of that name; UTC where this machine does not know it.
pub(super) fn zone_named(name: &str) -> TimeZone {
    let offset = || {
        let zoned = format!("2000-01-01T00:00:00{name}[{name}]");
        let zoned: ZonedDateTime = zoned.parse().ok()?;
        Some(zoned.time_zone().clone())
    };
    TimeZone::get(name)
        .ok()
        .or_else(offset)
        .unwrap_or(TimeZone::UTC)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_come_back_by_name() {
        let at: Timestamp = "2026-03-21T19:30:00Z".parse().unwrap();
        let offset = jiff::tz::Offset::from_seconds(-3 * 3600 - 1800).unwrap();
        for zone in [
            TimeZone::UTC,
            TimeZone::fixed(offset),
            TimeZone::get("Europe/Berlin").unwrap(),
        ] {
            let back = zone_named(&zone_name(&zone, at));
            assert_eq!(back.to_offset(at), zone.to_offset(at));
        }
        assert_eq!(zone_named("Low Marsh").to_offset(at), jiff::tz::Offset::UTC);
    }

    #[test]
    fn causes_come_back_by_word() {
        for (cause, word) in GapCause::WORDS {
            assert_eq!((cause.word(), GapCause::from_word(word)), (word, cause));
        }
        assert_eq!(GapCause::from_word("flood"), GapCause::Other);
    }
}
