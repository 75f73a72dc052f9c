//! The sun against a general library: `sun_table.txt` is what `checks/sun_table.py` prints, by ephem
//! 4.2.1 (planetary theory VSOP87, of another origin than the short series here). Six places,
//! four dates, four heights, polar day and night among them. Almanacs give whole minutes.
#![allow(missing_docs, reason = "tests")]

use jiff::Timestamp;
use markhold_skeds::{Daylight, Height, Place, daylight, elevation, is_above};

/// What was asked for.
const LIMIT_S: f64 = 120.0;

/// Above from midnight to midnight.
const ALWAYS: Daylight = Daylight::Up {
    rise: None,
    set: None,
};

fn height(name: &str) -> Height {
    match name {
        "Horizon" => Height::Horizon,
        "Civil" => Height::Civil,
        "Nautical" => Height::Nautical,
        "Astronomical" => Height::Astronomical,
        other => panic!("{other}"),
    }
}

fn off(a: Timestamp, b: &str) -> f64 {
    a.duration_since(b.parse().unwrap()).as_secs_f64().abs()
}

#[test]
fn within_two_minutes_of_the_table() {
    let (mut rows, mut worst) = (0, 0f64);
    for row in include_str!("sun_table.txt").lines() {
        let words: Vec<&str> = row.split(' ').collect();
        let place = Place {
            latitude: words[0].parse().unwrap(),
            longitude: words[1].parse().unwrap(),
        };
        let found = daylight(place, words[2].parse().unwrap(), height(words[3]));
        match (found, words[4]) {
            (Daylight::Never, "down") => {}
            (found, "up") if found == ALWAYS => {}
            (Daylight::Up { rise, set }, first) if words.len() == 6 => {
                let (rise, set) = (rise.expect("a rise"), set.expect("a set"));
                let here = off(rise, first).max(off(set, words[5]));
                assert!(here <= LIMIT_S, "{row}: {rise} {set}, {here} s off");
                worst = worst.max(here);
            }
            _ => panic!("{row}: {found:?}"),
        }
        rows += 1;
    }
    assert_eq!(rows, 6 * 4 * 4);
    println!("worst: {worst:.1} s");
}

/// Between rise and set it is above the horizon, and at both it stands 50 minutes of arc below.
#[test]
fn heights_agree_with_times() {
    let place = Place {
        latitude: 59.5,
        longitude: 10.25,
    };
    for day in ["2026-01-15", "2026-04-15", "2026-07-15", "2026-10-15"] {
        let found = daylight(place, day.parse().unwrap(), Height::Horizon);
        let Daylight::Up {
            rise: Some(rise),
            set: Some(set),
        } = found
        else {
            panic!("{day}: {found:?}");
        };
        for at in [rise, set] {
            let stands = elevation(place, at) + 50.0 / 60.0;
            assert!(stands.abs() < 0.01, "{day}: {stands}");
        }
        let minute = jiff::SignedDuration::from_mins(1);
        assert!(is_above(place, rise + minute, Height::Horizon));
        assert!(!is_above(place, set + minute, Height::Horizon));
        assert!(is_above(place, set + minute, Height::Civil));
    }
}

#[test]
fn poles_and_date_line_are_places_too() {
    for (latitude, longitude) in [(90.0, 0.0), (-90.0, 180.0), (0.0, 180.0), (0.0, -180.0)] {
        let place = Place {
            latitude,
            longitude,
        };
        for day in ["2026-06-21", "2026-12-21"] {
            let found = daylight(place, day.parse().unwrap(), Height::Horizon);
            let polar = found == ALWAYS || found == Daylight::Never;
            assert_eq!(
                polar,
                latitude.abs() == 90.0,
                "{latitude} {longitude} {day}: {found:?}"
            );
        }
    }
}
