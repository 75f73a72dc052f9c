//! What is on now and what comes next.

use crate::{Sked, SkedError};
use jiff::tz::TimeZoneDatabase;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeMap;

/// One transmission at one time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Due {
    /// The sked's number.
    pub sked: i64,
    /// When it begins.
    pub begins: Timestamp,
    /// When it usually ends.
    pub ends: Timestamp,
}

/// How far ahead is looked, hours: ten years, in which every 29 February that is left comes.
const AHEAD: SignedDuration = SignedDuration::from_hours(10 * 366 * 24);

/// The first `most` transmissions that have not ended at `now`, those that are on first, and the
/// skeds of which that cannot be told.
pub fn due(
    skeds: &BTreeMap<i64, Sked>,
    zones: &TimeZoneDatabase,
    now: Timestamp,
    most: usize,
) -> (Vec<Due>, Vec<(i64, SkedError)>) {
    let (mut all, mut wrong) = (Vec::new(), Vec::new());
    let until = now.saturating_add(AHEAD).unwrap_or(Timestamp::MAX);
    for (id, sked) in skeds {
        let length = sked.length();
        let from = now.saturating_sub(length).unwrap_or(Timestamp::MIN);
        // One more: that which ended just now is none.
        match sked
            .when
            .occurrences(zones, (from, until), most.saturating_add(1))
        {
            Ok(times) => all.extend(times.into_iter().map(|begins| Due {
                sked: *id,
                begins,
                ends: begins.saturating_add(length).unwrap_or(Timestamp::MAX),
            })),
            Err(error) => wrong.push((*id, error)),
        }
    }
    all.retain(|due| due.ends > now);
    all.sort_by_key(|due| (due.begins, due.sked));
    all.truncate(most);
    (all, wrong)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sked::tests::bulletin;

    #[test]
    fn on_now_then_next() {
        let hourly = |minute: i8| {
            let mut sked = bulletin();
            sked.when.zone = "UTC".into();
            sked.when.first = jiff::civil::date(2026, 1, 1).at(0, minute, 0, 0);
            sked.when.rules = vec!["FREQ=HOURLY".into()];
            sked.when.except = vec![];
            sked
        };
        let mut broken = hourly(0);
        broken.when.zone = "Atlantis".into();
        let skeds = BTreeMap::from([(1, hourly(0)), (2, hourly(30)), (3, broken)]);
        let zones = TimeZoneDatabase::bundled();
        let at = |now: &str| {
            let (due, wrong) = due(&skeds, &zones, now.parse().unwrap(), 3);
            assert_eq!((wrong.len(), wrong[0].0), (1, 3));
            due.into_iter()
                .map(|due| (due.sked, due.begins.to_string()[11..16].to_string()))
                .collect::<Vec<_>>()
        };
        let hours = |list: [(i64, &str); 3]| list.map(|(id, at)| (id, at.to_string())).to_vec();
        assert_eq!(
            at("2026-03-01T12:10:00Z"),
            hours([(1, "12:00"), (2, "12:30"), (1, "13:00")])
        );
        // The one of 12:00 lasts 20 minutes and is over on the minute.
        assert_eq!(
            at("2026-03-01T12:20:00Z"),
            hours([(2, "12:30"), (1, "13:00"), (2, "13:30")])
        );
    }
}
