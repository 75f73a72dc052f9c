//! The sun against printed years of the Astronomical Applications Department of the U. S. Naval
//! Observatory, "Rise and Set for the Sun" and "Civil Twilight": every day of a year at seven places, two
//! of them with polar day and night. The pages are as the observatory gives them; they were found
//! in the tests of the crate solar-positioning 0.7.2 and (Atlanta) of the Python package ephem 4.2.1.
#![allow(missing_docs, reason = "tests")]

mod page;

use jiff::{SignedDuration, Timestamp, civil::date};
use markhold_skeds::{Daylight, daylight, is_above};
use page::Page;

/// What was asked for, of pages that print whole minutes.
const LIMIT_S: f64 = 120.0;

macro_rules! pages {
    ($($name:literal),*) => {
        [$(($name, include_str!(concat!("pages/", $name, ".txt")))),*]
    };
}

/// By latitude, from north to south.
const PAGES: [(&str, &str); 13] = pages![
    "longyearbyen",
    "longyearbyen-civil",
    "anchorage",
    "anchorage-civil",
    "atlanta",
    "singapore",
    "singapore-civil",
    "brasilia",
    "brasilia-civil",
    "auckland",
    "auckland-civil",
    "mcmurdo",
    "mcmurdo-civil"
];

/// All rises and sets of the page's year, and of the days around it.
fn reckoned(page: &Page) -> [Vec<Timestamp>; 2] {
    let mut found = [vec![], vec![]];
    let mut day = date(page.year - 1, 12, 30);
    while day < date(page.year + 1, 1, 3) {
        if let Daylight::Up { rise, set } = daylight(page.place, day, page.height) {
            found[0].extend(rise);
            found[1].extend(set);
        }
        day = day.tomorrow().expect("a day");
    }
    found
}

fn off_s(at: Timestamp, others: &[Timestamp]) -> f64 {
    let off = |other: &Timestamp| at.duration_since(*other).as_secs_f64().abs();
    others.iter().map(off).fold(f64::INFINITY, f64::min)
}

/// How far the farthest of these is from its like, s.
fn worst(name: &str, of: &[Timestamp], others: &[Timestamp]) -> f64 {
    let of = of.iter().map(|at| (off_s(*at, others), at));
    let (off, at) = of.max_by(|a, b| a.0.total_cmp(&b.0)).expect("some");
    assert!(off <= LIMIT_S, "{name}: {at} is {off:.0} s off");
    off
}

#[test]
fn every_time_of_the_printed_years() {
    for (name, text) in PAGES {
        let page = page::read(text);
        let [rises, sets] = reckoned(&page);
        let printed = worst(name, &page.rises, &rises).max(worst(name, &page.sets, &sets));
        // Nor is there one that is not printed. One in the first or last minutes of the year may stand on
        // another page.
        let (begin, _) = page.day(date(page.year, 1, 1));
        let (_, end) = page.day(date(page.year, 12, 31));
        let inside = |at: &Timestamp| {
            let edge = SignedDuration::from_mins(2);
            *at > begin + edge && *at < end - edge
        };
        let inside = |of: &[Timestamp]| of.iter().copied().filter(inside).collect::<Vec<_>>();
        worst(name, &inside(&rises), &page.rises);
        worst(name, &inside(&sets), &page.sets);
        let times = page.rises.len() + page.sets.len();
        println!("{name}: {times} times, {printed:.0} s off at most");
    }
}

#[test]
fn polar_days_and_nights_are_those_that_are_printed() {
    let (mut up, mut down) = (0, 0);
    for (name, text) in PAGES {
        let page = page::read(text);
        for (days, above) in [(&page.up, true), (&page.down, false)] {
            for day in days {
                let (begin, end) = page.day(*day);
                for minutes in (0..).step_by(10).map(SignedDuration::from_mins) {
                    if begin + minutes > end {
                        break;
                    }
                    let found = is_above(page.place, begin + minutes, page.height);
                    assert_eq!(found, above, "{name} {day} + {minutes:?}");
                }
            }
        }
        (up, down) = (up + page.up.len(), down + page.down.len());
    }
    println!("{up} days up all day, {down} down");
    assert!(up > 300 && down > 300, "{up} {down}");
}
