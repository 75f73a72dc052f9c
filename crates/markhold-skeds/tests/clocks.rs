//! Changes of the clock: both in the year, in both hemispheres, times that do not exist or come
//! twice, 29 February, and zones whose rules changed.
#![allow(missing_docs, reason = "tests")]

use jiff::Timestamp;
use jiff::tz::TimeZoneDatabase;
use markhold_skeds::{SkedError, When};

fn when(zone: &str, first: &str, rules: &[&str]) -> When {
    When {
        zone: zone.into(),
        first: first.parse().unwrap(),
        rules: rules.iter().map(ToString::to_string).collect(),
        except: vec![],
        also: vec![],
    }
}

fn between(when: &When, from: &str, until: &str) -> Vec<String> {
    let span = [from, until].map(|day| format!("{day}T00:00:00Z").parse::<Timestamp>().unwrap());
    let zones = TimeZoneDatabase::bundled();
    let found = when
        .occurrences(&zones, (span[0], span[1]), usize::MAX)
        .unwrap();
    found.iter().map(Timestamp::to_string).collect()
}

/// Instants by Python's zoneinfo (fold 0, which is RFC 5545 3.3.5) and, apart from it, worked by hand:
/// the offset before a gap, the first of two.
#[test]
fn times_that_do_not_exist_and_that_come_twice() {
    for (zone, local, instant) in [
        // Forward, then back, north.
        ("Europe/London", "2026-03-29T01:30", "2026-03-29T01:30:00Z"),
        ("Europe/London", "2026-10-25T01:30", "2026-10-25T00:30:00Z"),
        (
            "America/New_York",
            "2026-03-08T02:30",
            "2026-03-08T07:30:00Z",
        ),
        (
            "America/New_York",
            "2026-11-01T01:30",
            "2026-11-01T05:30:00Z",
        ),
        // South: forward in October, back in April.
        (
            "Australia/Sydney",
            "2026-10-04T02:30",
            "2026-10-03T16:30:00Z",
        ),
        (
            "Australia/Sydney",
            "2026-04-05T02:30",
            "2026-04-04T15:30:00Z",
        ),
        // By half an hour.
        (
            "Australia/Lord_Howe",
            "2026-10-04T02:15",
            "2026-10-03T15:45:00Z",
        ),
    ] {
        let once = when(zone, local, &[]);
        assert_eq!(
            between(&once, "2026-01-01", "2027-01-01"),
            [instant],
            "{zone} {local}"
        );
        // The same by a rule that gives it.
        let mut weekly = when(zone, local, &["FREQ=WEEKLY"]);
        weekly.first = weekly
            .first
            .checked_sub(jiff::Span::new().weeks(3))
            .unwrap();
        let found = between(&weekly, "2026-01-01", "2027-01-01");
        assert_eq!(found[3], instant, "{zone} {local}");
    }
}

/// Tuesday at 20:00 in New York, heard in Berlin on Wednesday: the two change three weeks apart
/// in spring and one in autumn. Berlin is an hour ahead of UTC until 29 March and from 25 October.
#[test]
fn a_listener_in_another_zone() {
    let tuesday = when(
        "America/New_York",
        "2026-01-06T20:00",
        &["FREQ=WEEKLY;BYDAY=TU"],
    );
    let found = between(&tuesday, "2026-03-01", "2026-04-02");
    let expected = [
        "2026-03-04T01",
        "2026-03-11T00",
        "2026-03-18T00",
        "2026-03-25T00",
        "2026-04-01T00",
    ];
    assert_eq!(found, expected.map(|hour| format!("{hour}:00:00Z")));
    let zones = TimeZoneDatabase::bundled();
    let berlin = zones.get("Europe/Berlin").unwrap();
    let hours: Vec<i8> = found
        .iter()
        .map(|at| berlin.to_datetime(at.parse().unwrap()).hour())
        .collect();
    assert_eq!(hours, [2, 1, 1, 1, 2]);
    let autumn = between(&tuesday, "2026-10-20", "2026-11-05");
    assert_eq!(
        autumn,
        [
            "2026-10-21T00:00:00Z",
            "2026-10-28T00:00:00Z",
            "2026-11-04T01:00:00Z"
        ]
    );
}

/// Both times of a gap may be the same instant: it comes once.
#[test]
fn nothing_comes_twice_at_once() {
    let rule = "FREQ=DAILY;BYHOUR=1,2;BYMINUTE=30";
    let twice = when("Europe/London", "2026-03-28T01:30", &[rule, "FREQ=DAILY"]);
    let found = between(&twice, "2026-03-29", "2026-03-30");
    // 01:30 does not exist and is 02:30 by the new clock, which is 01:30 UTC.
    assert_eq!(found, ["2026-03-29T01:30:00Z"]);
}

#[test]
fn the_29th_of_february() {
    let yearly = when("UTC", "2024-02-29T20:00", &["FREQ=YEARLY"]);
    let found = between(&yearly, "2024-01-01", "2033-01-01");
    assert_eq!(
        found,
        [
            "2024-02-29T20:00:00Z",
            "2028-02-29T20:00:00Z",
            "2032-02-29T20:00:00Z"
        ]
    );
    let last = when(
        "UTC",
        "2024-02-29T20:00",
        &["FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=-1"],
    );
    let found = between(&last, "2024-01-01", "2027-01-01");
    assert_eq!(
        found,
        [
            "2024-02-29T20:00:00Z",
            "2025-02-28T20:00:00Z",
            "2026-02-28T20:00:00Z"
        ]
    );
}

/// Moscow was 4 hours ahead until 26 October 2014 and 3 from then on; Samoa left out 30 December
/// 2011 altogether (IANA time zone data base, europe and australasia).
#[test]
fn zones_whose_rules_changed() {
    let daily = when("Europe/Moscow", "2014-10-24T20:00", &["FREQ=DAILY;COUNT=5"]);
    let found = between(&daily, "2014-10-01", "2014-11-01");
    let hours: Vec<&str> = found.iter().map(|at| &at[5..13]).collect();
    assert_eq!(
        hours,
        ["10-24T16", "10-25T16", "10-26T17", "10-27T17", "10-28T17"]
    );
    let samoa = when("Pacific/Apia", "2011-12-28T20:00", &["FREQ=DAILY;COUNT=4"]);
    let found = between(&samoa, "2011-12-01", "2012-02-01");
    // 10 hours behind, then 14 ahead. The day that was left out is reckoned by the old offset,
    // which is the same instant as the evening after it.
    assert_eq!(
        found,
        [
            "2011-12-29T06:00:00Z",
            "2011-12-30T06:00:00Z",
            "2011-12-31T06:00:00Z"
        ]
    );
}

#[test]
fn exceptions_and_additions() {
    let mut weekly = when(
        "Europe/London",
        "2026-01-04T20:00",
        &["FREQ=WEEKLY;UNTIL=20260201"],
    );
    weekly.except = vec![
        "2026-01-11".parse().unwrap(),
        "2026-01-18T20:00".parse().unwrap(),
        "2026-01-25T19:00".parse().unwrap(),
    ];
    weekly.also = vec![
        "2026-01-12T21:00:00".parse().unwrap(),
        "2026-01-25T20:00:00".parse().unwrap(),
    ];
    let found = between(&weekly, "2026-01-01", "2027-01-01");
    let expected = ["01-04T20", "01-12T21", "01-25T20", "02-01T20"];
    assert_eq!(found, expected.map(|hour| format!("2026-{hour}:00:00Z")));
}

#[test]
fn a_span_takes_its_first_and_leaves_its_last() {
    let hourly = when("UTC", "2026-01-01T00:00", &["FREQ=HOURLY"]);
    let found = between(&hourly, "2026-01-02", "2026-01-03");
    assert_eq!(
        (found.len(), found[0].as_str()),
        (24, "2026-01-02T00:00:00Z")
    );
    let zones = TimeZoneDatabase::bundled();
    let span = ("2026-03-01T00:00:00Z".parse().unwrap(), Timestamp::MAX);
    let three = hourly.occurrences(&zones, span, 3).unwrap();
    assert_eq!(three.last().unwrap().to_string(), "2026-03-01T02:00:00Z");
    assert_eq!(hourly.occurrences(&zones, span, 0).unwrap(), []);
}

/// The first few are the first few of all, whatever the clock does between them.
#[test]
fn the_first_few_are_those_of_all() {
    let rules = [
        "FREQ=MINUTELY;INTERVAL=7",
        "FREQ=HOURLY;INTERVAL=5",
        "FREQ=DAILY;BYHOUR=0,1,2,3;BYMINUTE=15,45",
    ];
    for zone in ["Europe/London", "Australia/Lord_Howe", "America/New_York"] {
        for (first, from) in [
            ("2026-03-05T00:15", "2026-03-08"),
            ("2026-10-01T00:15", "2026-10-03"),
        ] {
            let when = when(zone, first, &rules);
            let zones = TimeZoneDatabase::bundled();
            let from: Timestamp = format!("{from}T00:00:00Z").parse().unwrap();
            let until = from + jiff::SignedDuration::from_hours(60);
            let all = when.occurrences(&zones, (from, until), usize::MAX).unwrap();
            assert!(all.is_sorted() && all.len() > 300);
            for most in [1, 7, 100] {
                let few = when
                    .occurrences(&zones, (from, Timestamp::MAX), most)
                    .unwrap();
                assert_eq!(few, all[..most], "{zone} {first} {most}");
            }
        }
    }
}

#[test]
fn what_cannot_be_is_said() {
    let said = |zone: &str, rule: &str| {
        let zones = TimeZoneDatabase::bundled();
        let when = when(zone, "2026-01-04T20:00", &[rule]);
        let all = (Timestamp::UNIX_EPOCH, Timestamp::MAX);
        when.occurrences(&zones, all, 1)
            .map_err(|error: SkedError| error.to_string())
    };
    assert!(
        said("Europe/Atlantis", "FREQ=DAILY")
            .unwrap_err()
            .contains("Europe/Oslo")
    );
    for rule in [
        "",
        "DAILY",
        "FREQ=NEVER",
        "FREQ=DAILY;BYHOUR=25",
        "FREQ=DAILY;INTERVAL=0",
        "FREQ=DAILY;COUNT=3;UNTIL=20270101",
        "FREQ=DAILY;UNTIL=tomorrow",
        "FREQ=SECONDLY",
        "FREQ=DAILY;COUNT=99999999999",
        "FREQ=DAILY;FREQ=DAILY",
        "FREQ=DAILY;X=1",
        "FREQ=ÄÖ",
        // The library's limit.
        "FREQ=MONTHLY;BYDAY=-5FR",
    ] {
        let error = said("UTC", rule);
        assert!(
            error.as_ref().is_err_and(|e| e.contains("cannot be used")),
            "{rule}: {error:?}"
        );
    }
    // A day that never comes is no error, and no endless search.
    assert_eq!(
        said("UTC", "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30"),
        Ok(vec![])
    );
}
