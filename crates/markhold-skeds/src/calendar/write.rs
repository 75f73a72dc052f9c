//! Skeds as single events of a calendar.

use crate::{Channel, Figure, MarkOnAir, Place, Sked, SkedError};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, Property};
use jiff::tz::{TimeZone, TimeZoneDatabase};
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeMap;

/// How far ahead events are written, hours: twelve months.
const AHEAD: SignedDuration = SignedDuration::from_hours(366 * 24);
/// Most events of one sked: one an hour.
const MOST: usize = 366 * 24;

/// A calendar file of all that comes within twelve months from `now` on. Each rings so many minutes
/// before, for each of `alarms`. The keys name the skeds in the events' identities, so that a later file replaces them.
///
/// # Errors
///
/// A zone that does not exist, a rule that cannot be used.
pub fn write(
    skeds: &BTreeMap<i64, Sked>,
    zones: &TimeZoneDatabase,
    now: Timestamp,
    alarms: &[u32],
) -> Result<String, SkedError> {
    let until = now.saturating_add(AHEAD).unwrap_or(Timestamp::MAX);
    let mut calendar = Calendar::empty();
    for (key, value) in [
        ("VERSION", "2.0"),
        ("PRODID", "-//markhold//skeds//EN"),
        ("CALSCALE", "GREGORIAN"),
    ] {
        calendar.append_property((key, value));
    }
    for (key, sked) in skeds {
        for begins in sked.when.occurrences(zones, (now, until), MOST)? {
            calendar.push(event(*key, sked, begins, (now, alarms)));
        }
    }
    Ok(calendar.to_string())
}

fn event(key: i64, sked: &Sked, begins: Timestamp, (now, alarms): (Timestamp, &[u32])) -> Event {
    let ends = begins.saturating_add(sked.length()).unwrap_or(begins);
    let mut event = Event::new();
    // The library would read the clock where a stamp is missing, and draw a chance identity.
    event.add_property("DTSTAMP", stamp(now));
    event.add_property("UID", format!("sked-{key}-{}@markhold", stamp(begins)));
    event.add_property("DTSTART", stamp(begins));
    event.add_property("DTEND", stamp(ends));
    event.add_property("SUMMARY", summary(sked));
    event.add_property("DESCRIPTION", description(sked));
    if let Ok(place) = sked.place.parse::<Place>() {
        let degrees = format!("{};{}", place.latitude, place.longitude);
        event.append_property(Property::new("GEO", degrees));
    }
    for minutes in alarms {
        let before = -chrono::Duration::minutes(i64::from(*minutes));
        let mut alarm = Alarm::display(&summary(sked), before);
        alarm.add_property("DTSTAMP", stamp(now));
        alarm.add_property(
            "UID",
            format!("sked-{key}-{}-{minutes}@markhold", stamp(begins)),
        );
        event.alarm(alarm);
    }
    event.done()
}

fn stamp(at: Timestamp) -> String {
    let time = TimeZone::UTC.to_datetime(at);
    time.strftime("%Y%m%dT%H%M%SZ").to_string()
}

fn summary(sked: &Sked) -> String {
    match sked.station.trim().is_empty() || sked.name.trim().is_empty() {
        true => sked.title().to_string(),
        false => format!("{}: {}", sked.station, sked.name),
    }
}

/// What there is to know, a line each.
fn description(sked: &Sked) -> String {
    let mut lines: Vec<String> = sked.channels.iter().map(channel).collect();
    let keying = [
        sked.shift_hz.map(|shift| format!("shift {shift} Hz")),
        sked.rate_baud.map(|rate| format!("{rate} baud")),
        sked.mark.map(|mark| match mark {
            MarkOnAir::Higher => "mark is the higher frequency".to_string(),
            MarkOnAir::Lower => "mark is the lower frequency".to_string(),
        }),
    ];
    let keying: Vec<String> = keying.into_iter().flatten().collect();
    lines.push(keying.join(", "));
    lines.push(sked.sends.clone());
    lines.push(sked.notes.clone());
    lines.retain(|line| !line.trim().is_empty());
    lines.join("\n")
}

fn channel(channel: &Channel) -> String {
    let khz = channel.khz;
    match channel.means {
        Figure::Middle => format!("{khz} kHz"),
        Figure::Mark => format!("{khz} kHz mark"),
        Figure::LowerCarrier { pitch_hz } => {
            format!("{khz} kHz carrier, lower sideband, tones around {pitch_hz} Hz")
        }
        Figure::UpperCarrier { pitch_hz } => {
            format!("{khz} kHz carrier, upper sideband, tones around {pitch_hz} Hz")
        }
    }
}
