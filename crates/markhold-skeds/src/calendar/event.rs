//! The parts of an event of a calendar, and its times.

use crate::SkedError;
use crate::clock::{stamp, zone};
use icalendar::parser::{Component, Property};
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};
use jiff::tz::{TimeZone, TimeZoneDatabase};

/// A time as an event gives it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Time {
    /// On a clock in this zone, by its IANA name or UTC.
    In(String, DateTime),
    /// On whatever clock.
    Anywhere(DateTime),
    /// A whole day.
    Day(Date),
}

/// What an event's zones are called here.
pub(super) struct Zones<'a> {
    pub(super) zones: &'a TimeZoneDatabase,
    /// Names of the file, and what the file says of their place.
    pub(super) places: Vec<(String, String)>,
}

impl Zones<'_> {
    /// The IANA name for a name of the file: itself, what the file says, or its end.
    fn name(&self, id: &str) -> Result<String, SkedError> {
        let place = self.places.iter().find(|(name, _)| name == id);
        let ends = id.match_indices('/').map(|(at, _)| &id[at + 1..]);
        let names = std::iter::once(id)
            .chain(place.map(|(_, place)| place.as_str()))
            .chain(ends);
        for name in names {
            if zone(self.zones, name).is_ok() {
                return Ok(name.to_string());
            }
        }
        Err(SkedError::Zone(id.to_string()))
    }

    /// The zone of that IANA name.
    pub(super) fn zone(&self, name: &str) -> Result<TimeZone, SkedError> {
        zone(self.zones, name)
    }
}

/// All properties of that name.
pub(super) fn all<'a>(
    event: &'a Component<'_>,
    name: &'a str,
) -> impl Iterator<Item = &'a Property<'a>> {
    let named = move |p: &&Property| p.name.as_str().eq_ignore_ascii_case(name);
    event.properties.iter().filter(named)
}

/// The text of a property; empty without it.
pub(super) fn text(event: &Component<'_>, name: &str) -> String {
    let first = all(event, name).next();
    first.map_or(String::new(), |p| p.val.as_str().trim().to_string())
}

/// A parameter of a property, without quotes.
fn parameter(property: &Property<'_>, name: &str) -> Option<String> {
    let mut named = property.params.iter();
    let found = named.find(|p| p.key.as_str().eq_ignore_ascii_case(name))?;
    let value = found.val.as_ref()?.as_str();
    Some(value.trim_matches('"').to_string())
}

/// The times of a property, which may be a list.
///
/// Errors: what is no time; a zone that nobody knows.
pub(super) fn times(property: &Property<'_>, zones: &Zones<'_>) -> Result<Vec<Time>, SkedError> {
    let id = parameter(property, "TZID");
    let zone = id.map(|id| zones.name(&id)).transpose()?;
    let values = property.val.as_str().split(',').map(str::trim);
    values
        .filter(|value| !value.is_empty())
        .map(|value| {
            // Of a period only its beginning is a time.
            let value = value.split_once('/').map_or(value, |(begin, _)| begin);
            time(value, zone.as_deref()).ok_or_else(|| SkedError::Value {
                what: "a time",
                found: format!("\"{value}\""),
                expected: "20260104T200000, with Z for UTC, or a date 20260104",
            })
        })
        .collect()
}

fn time(value: &str, zone: Option<&str>) -> Option<Time> {
    if let Some(utc) = value.strip_suffix(['Z', 'z']) {
        return Some(Time::In("UTC".into(), stamp(utc)?));
    }
    if !value.contains(['T', 't']) {
        return Some(Time::Day(stamp(&format!("{value}T000000"))?.date()));
    }
    let time = stamp(value)?;
    Some(match zone {
        Some(zone) => Time::In(zone.to_string(), time),
        None => Time::Anywhere(time),
    })
}

/// A duration such as `PT30M` or `P1DT2H`; `None` for what is none, or is below 0.
pub(super) fn duration(text: &str) -> Option<SignedDuration> {
    let text = text.trim().to_ascii_uppercase();
    let span: jiff::Span = text.parse().ok()?;
    let days = jiff::SpanRelativeTo::days_are_24_hours();
    let duration = span.to_duration(days).ok()?;
    (duration > SignedDuration::ZERO).then_some(duration)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations() {
        let minutes = |text| duration(text).map(|d| d.as_mins());
        assert_eq!(minutes("PT30M"), Some(30));
        assert_eq!(minutes("P1DT2H"), Some(1560));
        assert_eq!(minutes("P1W"), Some(10_080));
        for bad in ["", "30", "-PT30M", "PT0S", "P1M2", "PT99999999999999999H"] {
            assert_eq!(minutes(bad), None, "{bad}");
        }
    }
}
