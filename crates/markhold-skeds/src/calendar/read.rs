//! Skeds from a calendar file. What cannot be kept is named.

use super::event::{Time, Zones, all, duration, text, times};
use super::frequencies::frequencies;
use crate::clock::instant;
use crate::{Except, Place, Sked, SkedError, When};
use icalendar::parser::{Component, read_components, unfold};
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZoneDatabase;

/// What was read from a calendar.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Import {
    /// The skeds, in the order of their events.
    pub skeds: Vec<Sked>,
    /// What could not be kept.
    pub left: Vec<Left>,
}

/// Something of a calendar that could not be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Left {
    /// The event by its summary; empty for the calendar itself.
    pub event: String,
    /// What was left out and why.
    pub what: String,
}

/// Deepest nesting: a calendar, its events, their alarms, and some to spare.
const DEEPEST: usize = 8;
/// How long a transmission is taken to last where an event does not say, minutes.
const USUAL_MIN: f64 = 30.0;
/// What is kept, or is the calendar's own business and no loss.
const TAKEN: [&str; 22] = [
    "SUMMARY",
    "DESCRIPTION",
    "LOCATION",
    "DTSTART",
    "DTEND",
    "DURATION",
    "RRULE",
    "EXDATE",
    "RDATE",
    "RECURRENCE-ID",
    "UID",
    "DTSTAMP",
    "CREATED",
    "LAST-MODIFIED",
    "SEQUENCE",
    "TRANSP",
    "CLASS",
    "PRIORITY",
    "STATUS",
    "CATEGORIES",
    "GEO",
    "X-LIC-LOCATION",
];

/// Reads the events of a calendar file as skeds. A time without a zone is taken to be in `here`.
///
/// # Errors
///
/// No calendar at all. What is wrong with one event is told in [`Import::left`].
pub fn read(file: &str, zones: &TimeZoneDatabase, here: &str) -> Result<Import, SkedError> {
    let unfolded = unfold(file.trim_start_matches('\u{feff}'));
    check_nesting(&unfolded)?;
    let roots = read_components(&unfolded).map_err(|why| SkedError::Calendar(first_line(&why)))?;
    let calendars: Vec<_> = roots.iter().filter(|root| is(root, "VCALENDAR")).collect();
    if calendars.is_empty() {
        return Err(SkedError::Calendar("it holds no VCALENDAR".into()));
    }
    let mut import = Import::default();
    for calendar in calendars {
        let zones = Zones {
            zones,
            places: places(calendar),
        };
        import.calendar(calendar, &zones, here);
    }
    Ok(import)
}

fn is(component: &Component<'_>, name: &str) -> bool {
    component.name.as_str().eq_ignore_ascii_case(name)
}

/// The library reads nested parts by recursion.
fn check_nesting(unfolded: &str) -> Result<(), SkedError> {
    let mut depth = 0usize;
    for line in unfolded.lines() {
        let name = line
            .trim_start()
            .get(..6)
            .unwrap_or("")
            .to_ascii_uppercase();
        if name == "BEGIN:" {
            depth += 1;
        } else if name.starts_with("END:") {
            depth = depth.saturating_sub(1);
        }
        if depth > DEEPEST {
            let why = format!("its parts are nested more than {DEEPEST} deep");
            return Err(SkedError::Calendar(why));
        }
    }
    Ok(())
}

fn first_line(why: &str) -> String {
    let line = why.lines().map(str::trim).find(|line| !line.is_empty());
    line.unwrap_or("it cannot be read")
        .chars()
        .take(120)
        .collect()
}

/// Names of zones and their places, where the file says them.
fn places(calendar: &Component<'_>) -> Vec<(String, String)> {
    let zones = calendar
        .components
        .iter()
        .filter(|part| is(part, "VTIMEZONE"));
    zones
        .map(|zone| (text(zone, "TZID"), text(zone, "X-LIC-LOCATION")))
        .filter(|(_, place)| !place.is_empty())
        .collect()
}

impl Import {
    fn calendar(&mut self, calendar: &Component<'_>, zones: &Zones<'_>, here: &str) {
        let mut uids = Vec::new();
        for part in &calendar.components {
            match part.name.as_str().to_ascii_uppercase().as_str() {
                "VEVENT" if all(part, "RECURRENCE-ID").next().is_none() => {
                    if let Some(sked) = self.event(part, zones, here) {
                        uids.push((text(part, "UID"), self.skeds.len()));
                        self.skeds.push(sked);
                    }
                }
                "VEVENT" | "VTIMEZONE" => {}
                other => self.leave("", format!("a part {other}: only events can be skeds")),
            }
        }
        let moved = calendar.components.iter();
        for part in moved.filter(|p| is(p, "VEVENT") && all(p, "RECURRENCE-ID").next().is_some()) {
            self.moved(part, zones, here, &uids);
        }
    }

    fn leave(&mut self, event: &str, what: String) {
        let event = event.to_string();
        self.left.push(Left { event, what });
    }

    /// An event as a sked; `None` where it cannot be one, which is told.
    fn event(&mut self, event: &Component<'_>, zones: &Zones<'_>, here: &str) -> Option<Sked> {
        let name = name(event);
        if text(event, "STATUS").eq_ignore_ascii_case("CANCELLED") {
            self.leave(&name, "the whole event: it is cancelled".into());
            return None;
        }
        let (sked, left) = match sked(event, zones, here) {
            Ok(both) => both,
            Err(why) => {
                self.leave(&name, format!("the whole event: {why}"));
                return None;
            }
        };
        left.into_iter().for_each(|what| self.leave(&name, what));
        for property in &event.properties {
            let key = property.name.as_str().to_ascii_uppercase();
            if !TAKEN.contains(&key.as_str()) {
                self.leave(&name, format!("{key}: a sked has no place for it"));
            }
        }
        for part in &event.components {
            let kind = part.name.as_str();
            self.leave(&name, format!("{kind}: a sked is told by its own means"));
        }
        Some(sked)
    }

    /// One occurrence of a recurring event that was changed or called off: it becomes an
    /// exception of that, and what it was changed to a sked of its own.
    fn moved(
        &mut self,
        event: &Component<'_>,
        zones: &Zones<'_>,
        here: &str,
        uids: &[(String, usize)],
    ) {
        let name = name(event);
        let uid = text(event, "UID");
        let of = uids
            .iter()
            .find(|(known, _)| *known == uid)
            .map(|(_, at)| *at);
        let from = all(event, "RECURRENCE-ID").next();
        let times = from.map(|from| times(from, zones));
        let (Some(of), Some(Ok(times))) = (of, times) else {
            self.leave(
                &name,
                "a change of an event that is not in the file, or at no time".into(),
            );
            return;
        };
        let range = from.is_some_and(|p| {
            p.params
                .iter()
                .any(|q| q.key.as_str().eq_ignore_ascii_case("RANGE"))
        });
        if range {
            let what = "that a change holds for all that follows: only the one was changed";
            self.leave(&name, what.into());
        }
        let zone = self.skeds[of].when.zone.clone();
        for time in &times {
            match on_clock(time, &zone, zones) {
                Ok(except) => self.skeds[of].when.except.push(except),
                Err(why) => self.leave(&name, why.to_string()),
            }
        }
        if !text(event, "STATUS").eq_ignore_ascii_case("CANCELLED") {
            let sked = self.event(event, zones, here);
            self.skeds.extend(sked);
        }
    }
}

fn name(event: &Component<'_>) -> String {
    match text(event, "SUMMARY") {
        summary if summary.is_empty() => "an event without a summary".into(),
        summary => summary,
    }
}

/// The sked, and what of its times could not be kept.
fn sked(
    event: &Component<'_>,
    zones: &Zones<'_>,
    here: &str,
) -> Result<(Sked, Vec<String>), SkedError> {
    let mut left = Vec::new();
    let start = all(event, "DTSTART")
        .next()
        .map(|p| times(p, zones))
        .transpose()?;
    let start = start.and_then(|times| times.into_iter().next());
    let (zone, first) = match start {
        Some(Time::In(zone, first)) => (zone, first),
        Some(Time::Anywhere(first)) => {
            left.push(format!("that its time has no zone: taken as {here}"));
            (here.to_string(), first)
        }
        Some(Time::Day(_)) => return Err(no_start("a whole day")),
        None => return Err(no_start("missing")),
    };
    let mut when = When {
        zone,
        first,
        rules: all(event, "RRULE")
            .map(|p| p.val.as_str().to_string())
            .collect(),
        except: Vec::new(),
        also: Vec::new(),
    };
    for time in listed(event, "EXDATE", zones, &mut left) {
        when.except.push(on_clock(&time, &when.zone, zones)?);
    }
    for time in listed(event, "RDATE", zones, &mut left) {
        match on_clock(&time, &when.zone, zones)? {
            Except::Time(time) => when.also.push(time),
            Except::Day(day) => left.push(format!("RDATE {day}: a day without a time")),
        }
    }
    if !when.also.is_empty() && when.rules.is_empty() {
        // Without a rule the first time is one as any other.
        when.also.retain(|time| *time != first);
    }
    when.occurrences(zones.zones, (Timestamp::UNIX_EPOCH, Timestamp::MAX), 1)?;
    let length_min = match length(event, &when, zones) {
        Some(length) => length,
        None => {
            left.push(format!(
                "how long it lasts is not said: taken as {USUAL_MIN} minutes"
            ));
            USUAL_MIN
        }
    };
    let (summary, place, notes) = (
        name(event),
        text(event, "LOCATION"),
        text(event, "DESCRIPTION"),
    );
    let channels = frequencies(&format!("{summary} {place} {notes}"));
    if channels.is_empty() {
        left.push("no frequency in kHz or MHz was found in its words: add one".into());
    }
    let notes: Vec<String> = [place, notes]
        .into_iter()
        .filter(|t| !t.is_empty())
        .collect();
    let stands = stands(event, &mut left);
    let sked = Sked {
        station: String::new(),
        name: summary,
        sends: String::new(),
        channels,
        shift_hz: None,
        rate_baud: None,
        mark: None,
        when,
        length_min,
        place: stands,
        notes: notes.join("\n"),
        print_on: String::new(),
    };
    sked.check()?;
    Ok((sked, left))
}

/// Where the sender stands, by degrees (RFC 5545 3.8.1.6); empty where that is not said.
fn stands(event: &Component<'_>, left: &mut Vec<String>) -> String {
    let place = text(event, "GEO").replace(';', ",");
    if place.is_empty() || place.parse::<Place>().is_ok() {
        return place;
    }
    left.push(format!("GEO {place}: no degrees north and east"));
    String::new()
}

fn no_start(found: &str) -> SkedError {
    SkedError::Value {
        what: "its beginning",
        found: found.into(),
        expected: "a time of day",
    }
}

/// The times of all lists of that name. What cannot be read is told.
fn listed(
    event: &Component<'_>,
    name: &str,
    zones: &Zones<'_>,
    left: &mut Vec<String>,
) -> Vec<Time> {
    let mut found = Vec::new();
    for property in all(event, name) {
        match times(property, zones) {
            Ok(times) => found.extend(times),
            Err(why) => left.push(format!("{name}: {why}")),
        }
    }
    found
}

/// A time as a clock in the sender's zone shows it; without a zone it is one of that clock.
fn on_clock(time: &Time, zone: &str, zones: &Zones<'_>) -> Result<Except, SkedError> {
    Ok(match time {
        Time::Day(day) => Except::Day(*day),
        Time::Anywhere(time) => Except::Time(*time),
        Time::In(other, time) if other == zone => Except::Time(*time),
        Time::In(other, time) => {
            let at = instant(&zones.zone(other)?, *time)?;
            Except::Time(zones.zone(zone)?.to_datetime(at))
        }
    })
}

/// How long an event lasts, minutes.
fn length(event: &Component<'_>, when: &When, zones: &Zones<'_>) -> Option<f64> {
    // Few digits, so that they are the same wherever they are written; seconds come out of them.
    let minutes = |s: f64| (s > 0.0).then_some((s / 60.0 * 1e3).round() / 1e3);
    if let Some(length) = duration(&text(event, "DURATION")) {
        return minutes(length.as_secs_f64());
    }
    let end = times(all(event, "DTEND").next()?, zones).ok()?;
    let end: DateTime = match on_clock(end.first()?, &when.zone, zones).ok()? {
        Except::Time(end) => end,
        Except::Day(_) => return None,
    };
    let zone = zones.zone(&when.zone).ok()?;
    let (begin, end) = (instant(&zone, when.first).ok()?, instant(&zone, end).ok()?);
    minutes(end.duration_since(begin).as_secs_f64())
}
