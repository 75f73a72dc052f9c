//! Calendar files in and out.
#![allow(missing_docs, reason = "tests")]

use jiff::tz::TimeZoneDatabase;
use jiff::{SignedDuration, Timestamp};
use markhold_skeds::calendar::{Import, read, write};
use markhold_skeds::{Channel, Except, Figure, Sked, SkedError, When};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn calendar(events: &str) -> String {
    let text =
        format!("BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//marsh//EN\n{events}END:VCALENDAR\n");
    text.replace('\n', "\r\n")
}

fn import(events: &str) -> Import {
    read(
        &calendar(events),
        &TimeZoneDatabase::bundled(),
        "Europe/Berlin",
    )
    .unwrap()
}

fn left(import: &Import) -> String {
    import
        .left
        .iter()
        .map(|left| format!("{}: {}\n", left.event, left.what))
        .collect()
}

const WEEKLY: &str = "BEGIN:VEVENT\nUID:1@marsh\nDTSTAMP:20260101T000000Z\nSUMMARY:Low Marsh bulletin\nDTSTART;TZID=Europe/London:20260104T200000\nDTEND;TZID=Europe/London:20260104T202000\nRRULE:FREQ=WEEKLY;BYDAY=SU\nEXDATE;TZID=Europe/London:20260111T200000\nDESCRIPTION:On 3597 kHz\\, or 7.0475 MHz\\nlong line that is folded here by\n  the rules\nEND:VEVENT\n";

#[test]
fn rules_zones_and_exceptions_come_in() {
    let found = import(WEEKLY);
    assert_eq!(left(&found), "");
    let sked = &found.skeds[0];
    assert_eq!(
        (sked.name.as_str(), sked.length_min),
        ("Low Marsh bulletin", 20.0)
    );
    assert_eq!(sked.when.zone, "Europe/London");
    assert_eq!(sked.when.rules, ["FREQ=WEEKLY;BYDAY=SU"]);
    assert_eq!(
        sked.when.except,
        [Except::Time("2026-01-11T20:00:00".parse().unwrap())]
    );
    let khz: Vec<f64> = sked.channels.iter().map(|channel| channel.khz).collect();
    assert_eq!(khz, [3597.0, 7047.5]);
    assert!(
        sked.notes.contains("folded here by the rules"),
        "{}",
        sked.notes
    );
}

#[test]
fn what_cannot_be_kept_is_named() {
    let event = |lines: &str| {
        let found = import(&format!(
            "BEGIN:VEVENT\nSUMMARY:News on 3597 kHz\n{lines}\nEND:VEVENT\n"
        ));
        (found.skeds.len(), left(&found))
    };
    for (lines, kept, said) in [
        ("DTSTART;VALUE=DATE:20260104", 0, "a whole day"),
        ("DURATION:PT20M", 0, "missing"),
        ("DTSTART;TZID=Atlantis:20260104T200000", 0, "Atlantis"),
        (
            "DTSTART:20260104T200000Z\nRRULE:FREQ=NEVER",
            0,
            "cannot be used",
        ),
        ("DTSTART:20260104T200000Z\nSTATUS:CANCELLED", 0, "cancelled"),
        ("DTSTART:20261304T200000Z", 0, "a time"),
        (
            "DTSTART:20260104T200000\nDURATION:PT20M",
            1,
            "no zone: taken as Europe/Berlin",
        ),
        ("DTSTART:20260104T200000Z", 1, "taken as 30 minutes"),
        (
            "DTSTART:20260104T200000Z\nDURATION:PT20M\nATTENDEE:mailto:q1abc@marsh.invalid",
            1,
            "ATTENDEE",
        ),
        (
            "DTSTART:20260104T200000Z\nDURATION:PT20M\nEXRULE:FREQ=DAILY",
            1,
            "EXRULE",
        ),
        (
            "DTSTART:20260104T200000Z\nDURATION:PT20M\nRDATE;VALUE=DATE:20260106",
            1,
            "RDATE 2026-01-06",
        ),
        (
            "DTSTART:20260104T200000Z\nDURATION:PT20M\nBEGIN:VALARM\nACTION:AUDIO\nTRIGGER:-PT5M\nEND:VALARM",
            1,
            "VALARM",
        ),
    ] {
        let (count, what) = event(lines);
        assert!(
            count == kept && what.contains(said) && what.contains("News"),
            "{lines}: {count} {what}"
        );
    }
    let other = import("BEGIN:VTODO\nSUMMARY:mend the aerial\nEND:VTODO\n");
    assert!(left(&other).contains("VTODO"), "{}", left(&other));
}

#[test]
fn one_that_was_moved_is_an_exception_and_a_sked_of_its_own() {
    let moved = "BEGIN:VEVENT\nUID:1@marsh\nSUMMARY:Low Marsh bulletin\nRECURRENCE-ID;TZID=Europe/London:20260118T200000\nDTSTART;TZID=Europe/London:20260119T210000\nDURATION:PT20M\nDESCRIPTION:3597 kHz\nEND:VEVENT\n";
    let off = "BEGIN:VEVENT\nUID:1@marsh\nSUMMARY:Low Marsh bulletin\nRECURRENCE-ID:20260125T200000Z\nSTATUS:CANCELLED\nEND:VEVENT\n";
    let found = import(&format!("{moved}{WEEKLY}{off}"));
    assert_eq!(left(&found), "");
    let zones = TimeZoneDatabase::bundled();
    let january = (
        "2026-01-01T00:00:00Z".parse().unwrap(),
        "2026-02-02T00:00:00Z".parse().unwrap(),
    );
    let mut all: Vec<Timestamp> = found
        .skeds
        .iter()
        .flat_map(|s| s.when.occurrences(&zones, january, 99).unwrap())
        .collect();
    all.sort();
    let days: Vec<String> = all.iter().map(|at| at.to_string()[8..13].into()).collect();
    assert_eq!(days, ["04T20", "19T21", "01T20"]);
}

/// A zone by a name of the file's own, whose place it says, and one whose name ends in a known one.
#[test]
fn zones_by_other_names() {
    let zone = "BEGIN:VTIMEZONE\nTZID:Marsh time\nX-LIC-LOCATION:Europe/London\nEND:VTIMEZONE\n";
    let event = |id: &str| {
        format!(
            "BEGIN:VEVENT\nSUMMARY:x 3597 kHz\nDTSTART;TZID={id}:20260704T200000\nDURATION:PT20M\nEND:VEVENT\n"
        )
    };
    for id in ["Marsh time", "/marsh.invalid/2026/Europe/London"] {
        let found = import(&format!("{zone}{}", event(id)));
        assert_eq!(left(&found), "");
        assert_eq!(found.skeds[0].when.zone, "Europe/London", "{id}");
    }
}

#[test]
fn what_is_no_calendar_is_said() {
    let deep = "BEGIN:VCALENDAR\n".repeat(100_000);
    for text in [
        "",
        "hello",
        "BEGIN:VCARD\nEND:VCARD\n",
        "BEGIN:VCALENDAR\n",
        "\u{feff}",
        deep.as_str(),
    ] {
        let error = read(text, &TimeZoneDatabase::bundled(), "UTC").unwrap_err();
        assert!(matches!(error, SkedError::Calendar(_)), "{error}");
        assert!(error.to_string().contains("BEGIN:VCALENDAR"), "{error}");
    }
}

fn evening_in_london() -> Sked {
    Sked {
        station: "Q1LMC".into(),
        name: "Bulletin; with, signs \\ and a very long name that no line of seventy-five octets holds — ünï".into(),
        sends: String::new(),
        channels: vec![Channel { khz: 3597.4, means: Figure::Middle }],
        shift_hz: Some(170.0),
        rate_baud: Some(45.45),
        mark: None,
        when: When {
            zone: "Europe/London".into(),
            first: "2026-01-04T20:00:00".parse().unwrap(),
            rules: vec!["FREQ=WEEKLY".into()],
            except: vec![],
            also: vec![],
        },
        length_min: 20.0,
        place: "51.5,-0.25".into(),
        notes: "line one\nline two".into(),
        print_on: String::new(),
    }
}

#[test]
fn twelve_months_go_out_in_utc_and_come_back() {
    let zones = TimeZoneDatabase::bundled();
    let now: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
    let file = write(
        &BTreeMap::from([(7, evening_in_london())]),
        &zones,
        now,
        &[30, 5],
    )
    .unwrap();
    // RFC 5545 3.1: lines end in CR LF and hold 75 octets.
    for line in file.split_terminator("\r\n") {
        assert!(line.len() <= 75 && !line.contains(['\r', '\n']), "{line}");
    }
    assert!(file.ends_with("END:VCALENDAR\r\n") && !file.contains("RRULE"));
    assert_eq!(
        file.matches("BEGIN:VALARM").count(),
        2 * file.matches("BEGIN:VEVENT").count()
    );
    assert_eq!(
        file,
        write(
            &BTreeMap::from([(7, evening_in_london())]),
            &zones,
            now,
            &[30, 5]
        )
        .unwrap()
    );
    let back = read(&file, &zones, "UTC").unwrap();
    assert_eq!(back.skeds.len(), 52, "{}", back.skeds.len());
    // 20:00 in London is 19:00 UTC from 29 March to 24 October.
    let summer = back
        .skeds
        .iter()
        .filter(|sked| sked.when.first.hour() == 19)
        .count();
    assert_eq!(summer, 30);
    let first = &back.skeds[0];
    assert!(
        first.name.contains(&evening_in_london().name),
        "{}",
        first.name
    );
    assert_eq!((first.length_min, first.channels[0].khz), (20.0, 3597.4));
    assert_eq!(first.place, "51.5,-0.25");
    assert!(
        first.notes.contains("line one\nline two"),
        "{}",
        first.notes
    );
    let alarms = |import: &Import| import.left.iter().all(|left| left.what.contains("VALARM"));
    assert!(alarms(&back));
}

proptest! {
    /// Whatever is read, it is read or refused.
    #[test]
    fn nothing_panics(file in "(BEGIN:VCALENDAR\r?\n)?((BEGIN|END):V(EVENT|ALARM|CALENDAR)\r?\n|[A-Z-]{1,12}(;[A-Z]{1,6}=[\"a-zA-Z/]{0,9})?:[ -~é]{0,30}\r?\n|DTSTART:[0-9]{8}T[0-9]{6}Z?\r?\n|RRULE:FREQ=(DAILY|YEARLY);[A-Z]{2,8}=[-0-9,]{0,6}\r?\n){0,12}(END:VEVENT\r?\nEND:VCALENDAR)?") {
        let _ = read(&file, &TimeZoneDatabase::bundled(), "UTC");
    }

    /// A weekly sked anywhere goes out and comes back at the same instants.
    #[test]
    fn instants_survive(minute in 0i64..(365 * 1440), zone in prop::sample::select(vec!["UTC", "Europe/London", "Australia/Lord_Howe", "America/New_York"])) {
        let zones = TimeZoneDatabase::bundled();
        let now: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        let mut sked = evening_in_london();
        sked.when.zone = zone.into();
        sked.when.first = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0).saturating_add(SignedDuration::from_mins(minute));
        let until = now + SignedDuration::from_hours(366 * 24);
        let sent = sked.when.occurrences(&zones, (now, until), 999).unwrap();
        let file = write(&BTreeMap::from([(1, sked)]), &zones, now, &[]).unwrap();
        let back = read(&file, &zones, "UTC").unwrap();
        let came: Vec<Timestamp> = back.skeds.iter().map(|s| s.when.occurrences(&zones, (now, until), 9).unwrap()[0]).collect();
        prop_assert_eq!(sent, came);
    }
}
