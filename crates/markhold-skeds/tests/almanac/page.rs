//! A page of a year as the observatory prints it: a line for each day of the month, two columns
//! for each month, hours and minutes.

use jiff::civil::{Date, date};
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use markhold_skeds::{Height, Place};

/// What a page says.
pub struct Page {
    pub place: Place,
    pub year: i16,
    /// Rise and set, or begin and end of civil twilight.
    pub height: Height,
    /// Upwards and downwards.
    pub rises: Vec<Timestamp>,
    pub sets: Vec<Timestamp>,
    /// Dates on which it is above, and below, all day.
    pub up: Vec<Date>,
    pub down: Vec<Date>,
    /// From UTC to the clock of the page.
    pub clock: SignedDuration,
}

pub fn read(text: &str) -> Page {
    let after = |words: &str| {
        let (_, rest) = text
            .split_once(words)
            .unwrap_or_else(|| panic!("no \"{words}\""));
        rest
    };
    let (height, rest) = match text.contains("Civil Twilight for ") {
        true => (Height::Civil, after("Civil Twilight for ")),
        false => (Height::Horizon, after("Rise and Set for the Sun for ")),
    };
    let clock = match text.contains("Universal Time") {
        true => SignedDuration::ZERO,
        false => {
            after("Eastern Standard Time");
            SignedDuration::from_hours(-5)
        }
    };
    let mut page = Page {
        place: place(after("Location: ")),
        year: rest[..4].parse().expect("a year"),
        height,
        rises: vec![],
        sets: vec![],
        up: vec![],
        down: vec![],
        clock,
    };
    for line in text.lines() {
        page.read_day(line.trim_end());
    }
    page
}

/// `W084 25, N33 46`, degrees and minutes.
fn place(words: &str) -> Place {
    let degrees = |words: &str, back: char| {
        let (degrees, minutes) = words[1..].split_once(' ').expect("degrees and minutes");
        let minutes = minutes[..2].parse::<f64>().expect("minutes");
        let degrees = degrees.parse::<f64>().expect("degrees") + minutes / 60.0;
        if words.starts_with(back) {
            -degrees
        } else {
            degrees
        }
    };
    let (longitude, latitude) = words.split_once(", ").expect("two");
    Place {
        latitude: degrees(latitude, 'S'),
        longitude: degrees(longitude, 'W'),
    }
}

impl Page {
    /// The clock's time.
    fn on_the_page(&self, day: Date, hour: i8, minute: i8) -> Timestamp {
        let there = TimeZone::UTC
            .to_timestamp(day.at(hour, minute, 0, 0))
            .expect("a time");
        there - self.clock
    }

    /// A line that begins with a day of the month.
    fn read_day(&mut self, line: &str) {
        let Some(Ok(day)) = line.get(..2).map(str::parse::<i8>) else {
            return;
        };
        for month in 0..12 {
            let column = 4 + 11 * month;
            for (rises, from) in [(true, column), (false, column + 5)] {
                let cell = line.get(from..from + 4).unwrap_or("").trim();
                if !cell.is_empty() {
                    self.take(date(self.year, month as i8 + 1, day), rises, cell);
                }
            }
        }
    }

    fn take(&mut self, day: Date, rises: bool, cell: &str) {
        match cell {
            // Both columns say so.
            "****" | "////" if rises => self.up.push(day),
            "----" | "====" if rises => self.down.push(day),
            "****" | "////" | "----" | "====" => {}
            time => {
                let part = |part: &str| part.parse::<i8>().expect("hours and minutes");
                let at = self.on_the_page(day, part(&time[..2]), part(&time[2..]));
                if rises {
                    &mut self.rises
                } else {
                    &mut self.sets
                }
                .push(at);
            }
        }
    }

    /// First and last moment of the day, by the clock of the page.
    pub fn day(&self, day: Date) -> (Timestamp, Timestamp) {
        let begin = self.on_the_page(day, 0, 0);
        (begin, begin + SignedDuration::from_hours(24))
    }
}
