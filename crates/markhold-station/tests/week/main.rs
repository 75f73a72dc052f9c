//! Skeds looked after for a week: late ones, such as overrun, several at once, restarts, and a
//! kill in the middle of one. What was sent is on the shelf, whole, under its name, once.
//!
//! A short week in which they come close upon each other; `cargo test -p markhold-station --test
//! week -- --ignored --nocapture` lets a whole one of forty pass.
#![allow(missing_docs, reason = "tests")]

mod air;
mod looked;
mod plan;

use air::Week;
use jiff::SignedDuration;
use looked::{copied_to_the_end, look_through};
use markhold_shelf::{KeepSettings, Shelf};
use markhold_skeds::Dial;
use markhold_skeds::learned::{Stands, ToldBy};
use markhold_skeds::watch::Waits;
use markhold_station::settings::InUse;
use markhold_station::watching::{Attendant, DialKnown, Listening};
use markhold_station::{Room, Shelved, Snapshot, Station, StationOptions};
use plan::{Bulletin, DIAL_KHZ, Size, at, week};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

/// Names shelf, size and span to the program that looks after the skeds.
const TOLD: &str = "MARKHOLD_WEEK";

/// How often it looks, ms.
const LOOK_MS: i64 = 20_000;
/// How long nobody listens when it was killed, and when it was told to end: until it is started
/// again as the unit of systemd says, and hears. `checks/restarted.py` found 0.3 to 0.4 s and 0.9 to
/// 1.3 s on a busy computer.
const AWAY_KILLED_MS: i64 = 400;
const AWAY_ENDED_MS: i64 = 1_000;

const SHORT: Size = Size {
    skeds: 7,
    apart: 260,
    late: 1,
    overrun: 1,
    overlap: 1,
};
const WHOLE: Size = Size {
    skeds: 40,
    apart: 4 * 3600,
    late: 10,
    overrun: 5,
    overlap: 3,
};

/// Bulletins are short here, and so is what is waited for.
fn waits() -> Waits {
    Waits {
        early: SignedDuration::from_secs(20),
        late: SignedDuration::from_secs(60),
        quiet: SignedDuration::from_secs(45),
        overrun: SignedDuration::from_secs(300),
    }
}

fn station(week: &Week, place: &Path) -> Result<Station, String> {
    let clocks = week.clone();
    let options = StationOptions {
        in_use: InUse {
            all: true,
            early: false,
            ..InUse::default()
        },
        shelf: Some(Shelved {
            place: place.into(),
            keep: KeepSettings::default(),
            words: "the shelf".into(),
            practice: false,
        }),
        inputs: Arc::new(week.clone()),
        clocks: Arc::new(move || clocks.clocks()),
        ..StationOptions::default()
    };
    Station::start(options, "week").map_err(|error| error.to_string())
}

/// Not a test: the program that looks after skeds from one moment of the week to another, ms.
#[test]
fn looks_after_skeds() {
    let Ok(told) = std::env::var(TOLD) else {
        return;
    };
    let words: Vec<&str> = told.split(';').collect();
    let number = |k: usize| words[k].parse::<i64>().expect("a number");
    let (place, size, from, until) = (Path::new(words[0]), number(1), number(2), number(3));
    let week = Week::new(plan::week(size_of(size)), from);
    let (opened, shelf) = (week.clone(), place.to_path_buf());
    let open = Box::new(move || station(&opened, &shelf));
    let dial = DialKnown {
        dial: Some(Dial::default()),
        daemon: None,
    };
    let attendant = Attendant::new(place.into(), Listening::when_due(open), waits(), |_| {});
    let mut attendant = attendant.learning_of(dial);
    let mut begun = from;
    let mut out = std::io::stdout();
    for now in (from..until).step_by(LOOK_MS as usize) {
        week.pass_until(now);
        match attendant.listening().station() {
            Some(station) => hear_until(station, (now - begun) as f64 / 1e3),
            None => begun = now,
        }
        attendant.look(plan::at_ms(now));
        writeln!(out, "\nlooked {now}").expect("somebody reads");
    }
    if words[4] == "killed" {
        // What a second of the clock writes is not to be minutes of the week.
        std::thread::sleep(Duration::from_secs(1));
    }
    week.pass_until(until);
    if let Some(station) = attendant.listening().station() {
        hear_until(station, (until - begun) as f64 / 1e3);
    }
    if words[4] == "killed" {
        // Nor is what takes a moment from hand to hand: up to here all was heard.
        std::thread::sleep(Duration::from_millis(300));
    }
    writeln!(out, "\nlooked {until}").expect("somebody reads");
    if words[4] == "killed" {
        std::thread::sleep(Duration::from_secs(60));
    }
    attendant.end();
}

/// Waits until all sound up to there is taken in, s, and its evening has a number: what takes the
/// archive a moment is not to take minutes of the week.
fn hear_until(station: &Station, until_s: f64) {
    let behind = |sum: &Snapshot| sum.until_s < until_s - 0.2 || sum.evening.is_none();
    while station.look_in(Room::Radio, behind).unwrap_or(false) {
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn size_of(skeds: i64) -> Size {
    if skeds == WHOLE.skeds { WHOLE } else { SHORT }
}

/// Lets time pass, ms, with a program of its own; it is killed at its end, or ends by itself.
fn pass(place: &Path, size: Size, (from, until): (i64, i64), killed: bool) {
    let how = if killed { "killed" } else { "ended" };
    let told = format!("{};{};{from};{until};{how}", place.display(), size.skeds);
    let mut child = Command::new(std::env::current_exe().expect("this program"))
        .args(["--exact", "looks_after_skeds", "--nocapture"])
        .env(TOLD, told)
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let lines = BufReader::new(child.stdout.take().expect("its output")).lines();
    let looked = lines.filter_map(|line| line.ok()?.strip_prefix("looked ")?.parse::<i64>().ok());
    for now in looked {
        if killed && now == until {
            child.kill().expect("it runs");
        }
    }
    let ended = child.wait().expect("it ends");
    assert_eq!(ended.success(), !killed);
}

fn a_week(size: Size) {
    let bulletins = week(size);
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("shelf");
    let mut shelf = Shelf::make(&place).expect("a shelf");
    let skeds: Vec<_> = bulletins.iter().map(Bulletin::sked).collect();
    shelf.add_skeds(&skeds).expect("skeds");
    // The person says once in each half day where the dial stands, and nothing more.
    let last = bulletins.iter().map(|b| b.until).max().expect("some");
    for s in (0..=last).step_by(6 * 3600) {
        let stands = Stands {
            at: at(s),
            khz: Some(DIAL_KHZ),
            on: None,
            by: ToldBy::Person,
        };
        shelf.dial_was_set(&stands).expect("told");
    }
    drop(shelf);
    let middle = |k: usize| (bulletins[k].from + bulletins[k].until) / 2;
    let alone = (size.late + size.overrun) as usize;
    // Two restarts, one of them in a bulletin and one between two; a kill in one.
    let [restart, idle, kill] = [
        middle(alone),
        bulletins[alone + 1].until + 70,
        middle(alone + 2),
    ];
    let end = bulletins.iter().map(|b| b.until).max().expect("some") + 200;
    let [restart_ms, idle_ms, end_ms] = [restart, idle, end].map(|s| 1000 * s);
    let again_ms = idle_ms + AWAY_ENDED_MS;
    // It looks at whole steps from its start on, and is killed a second after one.
    let kill_ms = again_ms + (1000 * kill - again_ms) / LOOK_MS * LOOK_MS + 1000;
    pass(&place, size, (0, restart_ms), false);
    pass(&place, size, (restart_ms + AWAY_ENDED_MS, idle_ms), false);
    pass(&place, size, (again_ms, kill_ms), true);
    pass(&place, size, (kill_ms + AWAY_KILLED_MS, end_ms), false);
    copied_to_the_end(&place, end);
    // Who starts the program again finds what was copied again meanwhile.
    pass(
        &place,
        size,
        (end_ms + LOOK_MS, end_ms + 3 * LOOK_MS),
        false,
    );
    look_through(&place, &bulletins, [restart, kill_ms / 1000]);
}

#[test]
fn a_short_week_is_kept_whole_under_its_names() {
    a_week(SHORT);
}

#[test]
#[ignore = "a whole week takes minutes"]
fn a_week_is_kept_whole_under_its_names() {
    a_week(WHOLE);
}
