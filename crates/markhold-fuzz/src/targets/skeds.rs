//! Skeds: calendar files of others, and skeds as they are kept and as the page sends them.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use jiff::Timestamp;
use jiff::tz::TimeZoneDatabase;
use markhold_skeds::{Dial, Place, Sked, calendar};
use std::collections::BTreeMap;
use std::sync::OnceLock;

pub const CALENDAR: Target = Target {
    name: "calendar",
    try_bytes: calendar,
    seeds: || {
        seeds(&[
            "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\nSUMMARY:Marsh net on 3597 kHz mark\r\nDTSTART;TZID=Europe/London:20260104T200000\r\nDURATION:PT20M\r\nRRULE:FREQ=WEEKLY;BYDAY=SU\r\nEXDATE;TZID=Europe/London:20261227T200000\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
            "BEGIN:VCALENDAR\r\nBEGIN:VTIMEZONE\r\nTZID:here\r\nX-LIC-LOCATION:America/New_York\r\nEND:VTIMEZONE\r\nBEGIN:VEVENT\r\nUID:a\r\nSUMMARY:News\\, late\r\nDTSTART;TZID=here:20260301T013000\r\nDTEND:20260301T070000Z\r\nRDATE:20260302T013000\r\nRRULE:FREQ=MONTHLY;BYDAY=-1FR;UNTIL=20270101\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:a\r\nRECURRENCE-ID:20260302T013000\r\nDTSTART:20260302T020000\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n",
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nSUMMARY:Odd length\nDTSTART:20260301T013000Z\nDURATION:PT30M4S\nEND:VEVENT\nEND:VCALENDAR\n",
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nDTSTART;VALUE=DATE:20280229\nRRULE:FREQ=YEARLY;COUNT=3\nDESCRIPTION:7.0475 MHz USB\n  and 14 080\nEND:VEVENT\nEND:VCALENDAR\n",
        ])
    },
    words: &[
        "BEGIN:VCALENDAR\r\n",
        "BEGIN:VEVENT\r\n",
        "END:VEVENT\r\n",
        "END:VCALENDAR\r\n",
        "BEGIN:VALARM\r\n",
        "DTSTART",
        "DTEND",
        "DURATION:-P1W",
        "DURATION:PT99999999999H",
        ";TZID=",
        ";VALUE=DATE:",
        ";VALUE=PERIOD:",
        "RRULE:FREQ=",
        "SECONDLY",
        "MINUTELY",
        "DAILY",
        "YEARLY",
        ";INTERVAL=",
        ";COUNT=99999",
        ";UNTIL=",
        ";BYDAY=-53MO",
        ";BYSETPOS=-1",
        ";BYMONTHDAY=31",
        ";BYYEARDAY=-366",
        ";BYWEEKNO=53",
        "EXDATE:",
        "RDATE:",
        "RECURRENCE-ID:",
        "99991231T235959Z",
        "00010101T000000",
        "20260329T013000",
        "Europe/London",
        "Pacific/Apia",
        "\r\n ",
        "\\n",
        "99999999 kHz",
    ],
    longest: 4096,
};

/// The zones built in: the same on every machine.
fn zones() -> &'static TimeZoneDatabase {
    static ZONES: OnceLock<TimeZoneDatabase> = OnceLock::new();
    ZONES.get_or_init(TimeZoneDatabase::bundled)
}

fn noon() -> Timestamp {
    "2026-03-28T12:00:00Z".parse().expect("a time")
}

/// A calendar file. What it gives can be kept, and goes out and comes in again.
fn calendar(bytes: &[u8]) -> Went {
    let file = String::from_utf8_lossy(bytes);
    let import = match calendar::read(&file, zones(), "Europe/Berlin") {
        Ok(import) => import,
        Err(error) => return refused(error),
    };
    let came: Vec<Went> = import.skeds.iter().take(4).map(holds).collect();
    goes_out(&import.skeds);
    went((size(import.skeds.len()), size(import.left.len()), came))
}

/// Every event written is an event read.
fn goes_out(skeds: &[Sked]) {
    let few = skeds
        .iter()
        .filter(|sked| sked.when.rules.is_empty())
        .take(4);
    let some: BTreeMap<i64, Sked> = (1..).zip(few.cloned()).collect();
    let Ok(file) = calendar::write(&some, zones(), noon(), &[]) else {
        return;
    };
    let again = calendar::read(&file, zones(), "UTC").expect("our own calendar");
    let events = file.lines().filter(|line| *line == "BEGIN:VEVENT").count();
    assert_eq!(again.skeds.len(), events, "{:?}", again.left);
    assert!(again.skeds.iter().all(|sked| sked.check().is_ok()));
}

pub const SKED: Target = Target {
    name: "sked",
    try_bytes: sked,
    seeds: || {
        seeds(&[
            r#"{"version":1,"station":"Q1LMC","name":"News","sends":"","channels":[{"khz":3597.5},{"khz":7047.79,"means":{"upper-carrier":{"pitch_hz":2210.0}}}],"shift_hz":170.0,"rate_baud":45.45,"mark":"higher","when":{"zone":"Europe/London","first":"2026-01-04T20:00:00","rules":["FREQ=WEEKLY;BYDAY=SU"],"except":["2026-12-27"],"also":["2026-12-28T20:00:00"]},"length_min":20.0,"notes":""}"#,
            r#"{"version":1,"station":"","name":"x","channels":[],"when":{"zone":"UTC","first":"2026-01-04T20:00","except":["2026-12-27T20:00"]},"length_min":0.1}"#,
        ])
    },
    words: &[
        "\"mark\"",
        "\"lower-carrier\"",
        "\"pitch_hz\":",
        "\"zone\":\"Pacific/Apia\"",
        "FREQ=HOURLY",
        "FREQ=MINUTELY;BYSECOND=59",
        ";UNTIL=20261231T000000Z",
        ";COUNT=2",
        "null",
        "1e308",
        "-1",
        "0",
        "\"9999-12-31T23:59:59\"",
        "\"-009999-01-01T00:00\"",
        "[",
        "]",
        "{",
        "}",
        ",",
    ],
    longest: 2048,
};

/// A sked as it is kept, which is also how the page sends it.
fn sked(bytes: &[u8]) -> Went {
    let text = String::from_utf8_lossy(bytes);
    // Places come from the same page.
    if let Ok(place) = text.parse::<Place>() {
        assert!(place.locator().parse::<Place>().is_ok());
    }
    match serde_json::from_str::<Sked>(&text) {
        Ok(sked) => went((1, holds(&sked))),
        Err(error) => refused(error),
    }
}

/// What is a sked can be kept, reckoned with and tuned to.
fn holds(sked: &Sked) -> Went {
    assert!(sked.check().is_ok(), "{sked:?}");
    let form = serde_json::to_string(sked).expect("it can be written");
    let again: Sked = serde_json::from_str(&form).expect("it can be read");
    // Figures may come back by their last bit otherwise; their form stays what it was.
    assert_eq!(serde_json::to_string(&again).ok(), Some(form));
    for channel in &sked.channels {
        let set = Dial::default().set(sked, channel, -600.0);
        assert!(set.khz.is_finite() && !set.steps.is_empty(), "{set:?}");
    }
    let until = noon().saturating_add(jiff::SignedDuration::from_hours(400 * 24));
    let span = (noon(), until.expect("a time"));
    match sked.when.occurrences(zones(), span, 50) {
        Ok(times) => {
            assert!(times.is_sorted_by(|a, b| a < b) && times.len() <= 50);
            assert!(times.iter().all(|at| (span.0..span.1).contains(at)));
            went((size(times.len()), sked.channels.len().min(3)))
        }
        Err(error) => refused(error),
    }
}
