//! A recurrence rule on the clock on the wall.
//!
//! The library reckons in what it takes for UTC: a clock without changes. So the same zones serve
//! here and everywhere else in the program, and nothing is reckoned by two data bases.

use crate::SkedError;
use crate::clock::{instant, stamp};
use chrono::{Datelike, TimeZone as _, Timelike};
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use rrule::{RRule, RRuleSet, Tz, Unvalidated};

/// Times that are walked through at most before the first one asked for: a minute's rule over
/// some eight years. A rule that needs more is refused rather than waited for.
const MOST: usize = 4_000_000;

/// A rule of RFC 5545 3.3.10, from its first time on.
pub(crate) struct Rule {
    text: String,
    set: RRuleSet,
    /// The last instant at which it may begin.
    last: Option<Timestamp>,
}

impl Rule {
    /// Errors: a rule that says nothing sensible.
    pub(crate) fn new(text: &str, first: DateTime, zone: &TimeZone) -> Result<Self, SkedError> {
        let refused = |why: String| SkedError::Rule {
            rule: text.to_string(),
            why,
        };
        // The library cuts words by bytes.
        if !text.is_ascii() {
            return Err(refused("it holds signs that no rule has".into()));
        }
        let (parts, until) = without_until(text);
        let last = until
            .map(|until| last(until, zone))
            .transpose()
            .map_err(&refused)?;
        let rule: RRule<Unvalidated> = parts
            .parse()
            .map_err(|error: rrule::RRuleError| refused(error.to_string()))?;
        if until.is_some() && rule.get_count().is_some() {
            return Err(refused("COUNT and UNTIL exclude each other".into()));
        }
        if rule.get_freq() == rrule::Frequency::Secondly {
            return Err(refused(
                "nothing is sent every second; begin with FREQ=MINUTELY".into(),
            ));
        }
        if rule.get_interval() == 0 {
            return Err(refused("INTERVAL=0: expected 1 or more".into()));
        }
        let first = naive(first).ok_or_else(|| SkedError::Time(first.to_string()))?;
        // Bounded, so that a rule without any time, such as 30 February, comes to an end.
        let set = rule
            .build(first)
            .map_err(|error| refused(error.to_string()))?
            .limit();
        let text = text.to_string();
        Ok(Rule { text, set, last })
    }

    /// Whether an instant comes after its end.
    pub(crate) fn ended(&self, begins: Timestamp) -> bool {
        self.last.is_some_and(|last| begins > last)
    }

    /// The times on the wall that it gives from `from` to `until`, in order. An error is the last.
    pub(crate) fn between(
        &self,
        (from, until): (DateTime, DateTime),
    ) -> impl Iterator<Item = Result<DateTime, SkedError>> {
        let too_many = || SkedError::Rule {
            rule: self.text.clone(),
            why: format!("more than {MOST} times lie before the one asked for; begin it later"),
        };
        let times = self.set.into_iter().enumerate();
        let times = times.map(move |(k, time)| match k < MOST {
            true => civil(time),
            false => Err(too_many()),
        });
        let within = move |time: &Result<DateTime, SkedError>| match time {
            Ok(time) => *time <= until,
            Err(_) => true,
        };
        let early = move |time: &Result<DateTime, SkedError>| match time {
            Ok(time) => *time < from,
            Err(_) => false,
        };
        let mut failed = false;
        times.skip_while(early).take_while(move |time| {
            let goes_on = !failed && within(time);
            failed = time.is_err();
            goes_on
        })
    }
}

/// The rule without its end, and that. The end is an instant, which this clock does not know.
fn without_until(text: &str) -> (String, Option<&str>) {
    let text = text.trim();
    let text = match text.get(..6) {
        Some(name) if name.eq_ignore_ascii_case("RRULE:") => &text[6..],
        _ => text,
    };
    let parts: Vec<&str> = text
        .split(';')
        .filter(|part| !part.trim().is_empty())
        .collect();
    let end = parts.iter().find_map(|part| until(part));
    let others = parts.into_iter().filter(|part| until(part).is_none());
    (
        others.collect::<Vec<_>>().join(";").to_ascii_uppercase(),
        end,
    )
}

/// The value of a part that is an end.
fn until(part: &str) -> Option<&str> {
    let (key, value) = part.split_once('=')?;
    let is_end = key.trim().eq_ignore_ascii_case("UNTIL");
    is_end.then_some(value.trim())
}

/// The last instant of an end as written: UTC, the sender's time, or a date with all of its day.
fn last(until: &str, zone: &TimeZone) -> Result<Timestamp, String> {
    let wrong = || format!("UNTIL={until}: expected 20261231, 20261231T200000 or 20261231T200000Z");
    let (time, utc) = match until.strip_suffix(['Z', 'z']) {
        Some(time) => (time, true),
        None => (until, false),
    };
    let time = match (time.contains(['T', 't']), utc) {
        (true, _) => stamp(time),
        (false, false) => stamp(&format!("{time}T235959")),
        (false, true) => None,
    };
    let zone = if utc { &TimeZone::UTC } else { zone };
    instant(zone, time.ok_or_else(wrong)?).map_err(|error| error.to_string())
}

fn naive(time: DateTime) -> Option<chrono::DateTime<Tz>> {
    let part = |value: i8| u32::try_from(value).ok();
    let day = (
        i32::from(time.year()),
        part(time.month())?,
        part(time.day())?,
    );
    let clock = (
        part(time.hour())?,
        part(time.minute())?,
        part(time.second())?,
    );
    let date = chrono::NaiveDate::from_ymd_opt(day.0, day.1, day.2)?;
    let time = date.and_hms_opt(clock.0, clock.1, clock.2)?;
    Some(Tz::UTC.from_utc_datetime(&time))
}

fn civil(time: chrono::DateTime<Tz>) -> Result<DateTime, SkedError> {
    let small = |value: u32| i8::try_from(value).ok();
    let made = || {
        let year = i16::try_from(time.year()).ok()?;
        let day = jiff::civil::Date::new(year, small(time.month())?, small(time.day())?).ok()?;
        let clock = (
            small(time.hour())?,
            small(time.minute())?,
            small(time.second())?,
        );
        Some(day.at(clock.0, clock.1, clock.2, 0))
    };
    made().ok_or_else(|| SkedError::Time(time.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_is_taken_out_wherever_it_stands() {
        let parts = |text| without_until(text);
        assert_eq!(parts("FREQ=DAILY"), ("FREQ=DAILY".into(), None));
        let with = parts("rrule:freq=daily;until=20261231;INTERVAL=2;");
        assert_eq!(with, ("FREQ=DAILY;INTERVAL=2".into(), Some("20261231")));
    }

    #[test]
    fn signs_that_no_rule_has_are_refused() {
        let first = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0);
        for text in ["FREQ=WEEKLY;BYDAY=S\u{fffd}", "FREQ=WEEKLY;BYDAY=\u{fffd}U"] {
            let rule = Rule::new(text, first, &TimeZone::UTC);
            assert!(
                rule.is_err_and(|error| error.to_string().contains("signs")),
                "{text}"
            );
        }
    }

    #[test]
    fn ends_are_instants() {
        let last = |until| last(until, &TimeZone::UTC).map(|at| at.to_string());
        assert_eq!(last("20261231").unwrap(), "2026-12-31T23:59:59Z");
        assert_eq!(last("20261231T200000Z").unwrap(), "2026-12-31T20:00:00Z");
        assert_eq!(last("20261231T200000").unwrap(), "2026-12-31T20:00:00Z");
        for bad in ["", "Z", "2026", "20261331", "20261231Z", "tomorrow"] {
            assert!(
                last(bad).unwrap_err().contains("expected 20261231"),
                "{bad}"
            );
        }
    }
}
