//! How the live path's types are written as JSON; signals and characters as everywhere
//! ([`markhold_event`]).

use serde::Serializer;

/// A time on the clock as text of RFC 3339.
pub fn timestamp<S: Serializer>(at: &jiff::Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(at)
}
