//! Dates and times as typed, and as said.

use anyhow::{Context, bail};
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, ZonedDateTime};

/// The time zone in which times are typed and said.
#[derive(Clone, Debug)]
pub struct Zone {
    /// UTC was asked for; otherwise the station's zone as kept with each evening.
    pub utc: bool,
}

impl Zone {
    /// The beginning of what was typed: a date, or a date and time.
    pub fn from(&self, typed: &str) -> anyhow::Result<Timestamp> {
        self.timestamp(typed, false)
    }

    /// The end of what was typed: of the whole date where no time was given.
    pub fn until(&self, typed: &str) -> anyhow::Result<Timestamp> {
        self.timestamp(typed, true)
    }

    fn timestamp(&self, typed: &str, whole_day: bool) -> anyhow::Result<Timestamp> {
        let here = if self.utc {
            TimeZone::UTC
        } else {
            TimeZone::system()
        };
        let local = match (typed.parse::<Timestamp>(), typed.parse::<DateTime>()) {
            (Ok(timestamp), _) => return Ok(timestamp),
            (_, Ok(local)) => local,
            _ => bail!(
                "\"{typed}\" is no date: expected 2026-03-21, or with a time 2026-03-21T19:30"
            ),
        };
        // A date alone reads as its midnight.
        let is_date = typed.trim().len() <= "2026-03-21".len();
        let local = match is_date && whole_day {
            true => local.checked_add(1.day()).context("a date too late")?,
            false => local,
        };
        Ok(here.to_zoned_datetime(local)?.timestamp())
    }

    /// A time as said: in the station's zone or in UTC.
    pub fn of(&self, time: &ZonedDateTime) -> ZonedDateTime {
        match self.utc {
            true => time.with_time_zone(TimeZone::UTC),
            false => time.clone(),
        }
    }

    /// `2026-03-21 20:30:05 CET`.
    pub fn full(&self, time: &ZonedDateTime) -> String {
        self.of(time).strftime("%Y-%m-%d %H:%M:%S %Z").to_string()
    }

    /// `20:30:05`.
    pub fn clock(&self, time: &ZonedDateTime) -> String {
        self.of(time).strftime("%H:%M:%S").to_string()
    }
}

/// A date as typed, if it is one.
pub fn date(typed: &str) -> Option<Date> {
    typed.parse().ok()
}

/// A length as said: `1 h 05 min`, `12 min`, `40 s`.
pub fn length(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match whole {
        0..60 => format!("{whole} s"),
        60..3600 => format!("{} min", whole / 60),
        _ => format!("{} h {:02} min", whole / 3600, whole / 60 % 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_times() {
        let zone = Zone { utc: true };
        let said = |t: anyhow::Result<Timestamp>| t.unwrap().to_string();
        assert_eq!(said(zone.from("2026-03-21")), "2026-03-21T00:00:00Z");
        assert_eq!(said(zone.until("2026-03-21")), "2026-03-22T00:00:00Z");
        assert_eq!(said(zone.from("2026-03-21T19:30")), "2026-03-21T19:30:00Z");
        assert_eq!(said(zone.until("2026-03-21 19:30")), "2026-03-21T19:30:00Z");
        assert_eq!(
            said(zone.until("2026-03-21T20:30+01:00")),
            "2026-03-21T19:30:00Z"
        );
        for bad in ["yesterday", "2026-02-30", ""] {
            let error = zone.from(bad).unwrap_err().to_string();
            assert!(error.contains("expected 2026-03-21"), "{error}");
        }
        assert_eq!(
            (date("2026-03-21"), date("12")),
            (Some(jiff::civil::date(2026, 3, 21)), None)
        );
    }

    #[test]
    fn said_times() {
        let time: ZonedDateTime = "2026-03-21T20:30:05+01:00[Europe/Berlin]".parse().unwrap();
        assert_eq!(Zone { utc: false }.full(&time), "2026-03-21 20:30:05 CET");
        assert_eq!(Zone { utc: true }.full(&time), "2026-03-21 19:30:05 UTC");
        assert_eq!(Zone { utc: true }.clock(&time), "19:30:05");
        let lengths = [0.4, 59.4, 60.0, 3_599.0, 3_900.0].map(length);
        assert_eq!(lengths, ["0 s", "59 s", "1 min", "59 min", "1 h 05 min"]);
    }
}
