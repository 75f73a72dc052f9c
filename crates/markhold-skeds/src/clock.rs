//! Clocks on walls: times, zones, and the instants that both make.

use crate::SkedError;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{TimeZone, TimeZoneDatabase};

/// The zone of this name.
///
/// # Errors
///
/// There is none.
pub fn zone(zones: &TimeZoneDatabase, name: &str) -> Result<TimeZone, SkedError> {
    match name.eq_ignore_ascii_case("UTC") {
        true => Ok(TimeZone::UTC),
        false => zones
            .get(name)
            .map_err(|_| SkedError::Zone(name.to_string())),
    }
}

/// The instant at which a clock on the wall of the zone shows this time (RFC 5545 3.3.5: of two
/// the first, of none the one that the offset before the change gives).
pub(crate) fn instant(zone: &TimeZone, time: DateTime) -> Result<Timestamp, SkedError> {
    let ambiguous = zone.to_ambiguous_timestamp(time);
    let instant = ambiguous.compatible();
    instant.map_err(|_| SkedError::Time(time.to_string()))
}

/// A time as calendars write it: `20260104T200000`.
pub(crate) fn stamp(text: &str) -> Option<DateTime> {
    jiff::civil::DateTime::strptime("%Y%m%dT%H%M%S", text.to_ascii_uppercase()).ok()
}
