//! When a transmission comes: a time on the sender's clock, rules by which it recurs, exceptions.
//!
//! Rules are reckoned on the clock on the sender's wall, which knows no changes; what they give
//! is made an instant by the sender's zone last. RFC 5545 3.3.5 says what holds for a time that
//! the clock skips or shows twice, and 3.3.10 that recurrences follow it: a skipped time is
//! reckoned by the offset before the change, of a repeated one the first is meant.

use crate::SkedError;
use crate::clock::{instant, zone};
use crate::rule::Rule;
use jiff::civil::{Date, DateTime};
use jiff::tz::{TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

/// When a transmission begins.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct When {
    /// The sender's time zone: `UTC` or a name of the IANA data base.
    pub zone: String,
    /// The first time on the sender's clock. Where there are rules, the first one that they give
    /// from here on counts.
    #[serde(with = "text")]
    pub first: DateTime,
    /// Rules of RFC 5545 3.3.10, such as `FREQ=WEEKLY;BYDAY=SU`; without any it comes once. An
    /// `UNTIL` with `Z` is UTC, without it the sender's time, as a date the whole of that day.
    #[serde(default)]
    pub rules: Vec<String>,
    /// When it does not come.
    #[serde(default)]
    pub except: Vec<Except>,
    /// When it comes besides, on the sender's clock.
    #[serde(default, with = "texts")]
    pub also: Vec<DateTime>,
}

/// When a transmission does not come, on the sender's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Except {
    /// On this whole day.
    Day(Date),
    /// At this time.
    Time(DateTime),
}

impl FromStr for Except {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        // Times are tried by what a date lacks: the library takes a time for a date too.
        match text.contains(['T', 't', ' ']) {
            true => text.parse().map(Except::Time).ok(),
            false => text.parse().map(Except::Day).ok(),
        }
        .ok_or_else(|| {
            format!("\"{text}\" is no exception: expected 2026-12-27 or 2026-12-27T20:00")
        })
    }
}

impl fmt::Display for Except {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Except::Day(day) => day.fmt(f),
            Except::Time(time) => time.fmt(f),
        }
    }
}

impl TryFrom<String> for Except {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<Except> for String {
    fn from(except: Except) -> String {
        except.to_string()
    }
}

/// How much the clock on the wall may differ from UTC, with a change of it: offsets are less than
/// 26 hours, and a zone has skipped a day by moving across the date line.
const SLACK: SignedDuration = SignedDuration::from_hours(50);

/// How far a change of the clock may put instants out of the order of their times on the wall.
const ABREAST: SignedDuration = SignedDuration::from_hours(25);

impl When {
    /// The instants at which it begins, from `from` on and before `until`, in order, each once;
    /// the first `most` of them.
    ///
    /// # Errors
    ///
    /// No such zone, or a rule that cannot be used.
    pub fn occurrences(
        &self,
        zones: &TimeZoneDatabase,
        (from, until): (Timestamp, Timestamp),
        most: usize,
    ) -> Result<Vec<Timestamp>, SkedError> {
        let zone = zone(zones, &self.zone)?;
        let except = Excepted::new(&self.except, &zone)?;
        let comes = |at: Timestamp| at >= from && at < until && !except.has(at, &zone);
        let mut all = BTreeSet::new();
        for time in self.once() {
            all.insert(instant(&zone, time)?);
        }
        for rule in &self.rules {
            let rule = Rule::new(rule, self.first, &zone)?;
            let wall = (local(&zone, from, -SLACK), local(&zone, until, SLACK));
            let mut settled = Settled::new(most);
            for time in rule.between(wall) {
                let begins = instant(&zone, time?)?;
                if !rule.ended(begins) && comes(begins) {
                    all.insert(begins);
                    settled.add(begins);
                }
                if settled.is_enough(begins) {
                    break;
                }
            }
        }
        Ok(all.into_iter().filter(|at| comes(*at)).take(most).collect())
    }

    /// The times that no rule gives.
    fn once(&self) -> impl Iterator<Item = DateTime> {
        let first = self.rules.is_empty().then_some(self.first);
        first.into_iter().chain(self.also.iter().copied())
    }
}

/// Tells when enough instants are known that none that follows can come before them.
struct Settled {
    most: usize,
    found: BTreeSet<Timestamp>,
}

impl Settled {
    fn new(most: usize) -> Self {
        let found = BTreeSet::new();
        Settled { most, found }
    }

    fn add(&mut self, begins: Timestamp) {
        self.found.insert(begins);
    }

    /// Looked at closely only where there may be enough.
    fn is_enough(&self, now: Timestamp) -> bool {
        let bound = now.saturating_sub(ABREAST).unwrap_or(Timestamp::MIN);
        self.found.len() >= self.most && self.found.range(..bound).nth(self.most).is_some()
    }
}

/// What is not to come.
struct Excepted {
    days: BTreeSet<Date>,
    times: BTreeSet<Timestamp>,
}

impl Excepted {
    fn new(except: &[Except], zone: &TimeZone) -> Result<Self, SkedError> {
        let (mut days, mut times) = (BTreeSet::new(), BTreeSet::new());
        for one in except {
            match one {
                Except::Day(day) => days.insert(*day),
                Except::Time(time) => times.insert(instant(zone, *time)?),
            };
        }
        Ok(Excepted { days, times })
    }

    fn has(&self, at: Timestamp, zone: &TimeZone) -> bool {
        self.times.contains(&at) || self.days.contains(&zone.to_datetime(at).date())
    }
}

/// What a clock on the wall of the zone shows so much later; at the ends of time, as far as it goes.
fn local(zone: &TimeZone, at: Timestamp, later: SignedDuration) -> DateTime {
    let at = match at.saturating_add(later) {
        Ok(at) => at,
        Err(_) => at,
    };
    zone.to_datetime(at)
}

/// A time written as text.
mod text {
    use super::*;
    use serde::{Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(time: &DateTime, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(time)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<DateTime, D::Error> {
        let text = String::deserialize(from)?;
        time(&text).map_err(D::Error::custom)
    }
}

/// Times written as texts.
mod texts {
    use super::*;
    use serde::{Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(times: &[DateTime], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(times.iter().map(DateTime::to_string))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<DateTime>, D::Error> {
        let all = Vec::<String>::deserialize(from)?;
        let times = all.iter().map(|text| time(text));
        times.collect::<Result<_, _>>().map_err(D::Error::custom)
    }
}

fn time(text: &str) -> Result<DateTime, String> {
    text.parse()
        .map_err(|_| format!("\"{text}\" is no time: expected 2026-01-04T20:00"))
}
