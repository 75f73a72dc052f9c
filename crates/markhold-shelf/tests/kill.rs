//! A keeper is killed at any moment: the archive stays sound, and of what was handed in
//! at most a second is lost.
//!
//! Kills a few times; `MARKHOLD_KILLS=100 cargo test -p markhold-shelf --test kill -- --nocapture`
//! kills as often as is said and prints what was lost.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_shelf::{GapCause, KeepSettings, Keeper, Shelf};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Names the shelf to the program that is to be killed.
const PLACE: &str = "MARKHOLD_KILL_PLACE";

/// Samples handed in at once: 0.1 s.
const BLOCK: u64 = 800;

/// What a kill may cost, s.
const MOST_LOST_S: f64 = 1.0;

/// A character of copy every block: its line, a carriage return and a line feed.
const LINE: &str = "BULLETIN OF THE MARSH\r\n";

/// Not a test: the program that is killed. Keeps sound and copy far faster than they are
/// heard, and says after every block how many samples it has handed in.
#[test]
fn keeps_until_it_is_killed() {
    let Ok(place) = std::env::var(PLACE) else {
        return;
    };
    let settings = KeepSettings {
        segment_s: 20.0,
        ..settings()
    };
    let keeper = Keeper::begin(Path::new(&place), evening(), settings).unwrap();
    let copy = transmission(1, 0.0, &LINE.repeat(1_000));
    let mut out = std::io::stdout();
    for (block, event) in (0..).zip(copy.iter().cycle()) {
        while keeper.waiting_s() > 0.5 {
            std::thread::sleep(Duration::from_micros(200));
        }
        keeper.sound(&ramp(block * BLOCK, BLOCK));
        keeper.event(event);
        writeln!(out, "\nhanded {}", (block + 1) * BLOCK).unwrap();
    }
}

fn start(place: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "keeps_until_it_is_killed", "--nocapture"])
        .env(PLACE, place)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Kills it so long after its first sample; gives how many samples it had handed in.
fn killed_after(place: &Path, wait: Duration) -> u64 {
    let mut child = start(place);
    let mut lines = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(Result::unwrap);
    let handed = |line: String| line.strip_prefix("handed ")?.parse().ok();
    let first = lines.by_ref().find_map(handed).expect("it runs");
    let rest = std::thread::spawn(move || lines.filter_map(handed).last());
    std::thread::sleep(wait);
    child.kill().unwrap();
    child.wait().unwrap();
    rest.join().unwrap().unwrap_or(first)
}

/// Seconds of sound lost of the latest evening, after everything else was found right. Killed
/// within its first moments it is none at all.
fn lost_s(place: &Path, handed: u64, evenings: &mut usize) -> f64 {
    let all = Shelf::open(place).map_or(0, |s| s.evenings(None, None, 1_000).unwrap().len());
    if all == *evenings {
        return handed as f64 / f64::from(RATE);
    }
    *evenings = all;
    let shelf = Shelf::open(place).unwrap();
    assert_eq!(shelf.check().unwrap().damage, [""; 0]);
    let evening = shelf.evenings(None, None, 1).unwrap().pop().unwrap();
    assert!(evening.end.is_some() && evening.readings[0].finished);
    let last = evening.gaps.last().expect("it was broken off");
    assert_eq!((last.length_s, last.cause), (None, GapCause::Stopped));
    let mut there = 0;
    for (segment, path) in shelf.sound(evening.id).unwrap() {
        let sound = samples(&path);
        assert_eq!(segment.samples, sound.len() as u64);
        assert!(sound == ramp(there, segment.samples), "{segment:?}");
        there += segment.samples;
    }
    copy_is_whole(&shelf, evening.readings[0].id);
    handed.saturating_sub(there) as f64 / f64::from(RATE)
}

/// Every line but the last of a signal is a whole line.
fn copy_is_whole(shelf: &Shelf, reading: i64) {
    let mut lines = Vec::new();
    shelf.lines(reading, &mut |line| lines.push(line)).unwrap();
    let all: String = lines
        .iter()
        .flat_map(|line| line.characters().unwrap())
        .filter_map(|c| c.symbol.text())
        .collect();
    assert!(LINE.repeat(lines.len() + 1).starts_with(&all), "{all:?}");
}

#[test]
fn a_kill_costs_at_most_a_second() {
    let kills: u32 = std::env::var("MARKHOLD_KILLS").map_or(4, |n| n.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let (mut worst_s, mut handed_s, mut evenings) = (0f64, 0.0, 0);
    for kill in 0..kills {
        // Evenly spread over 0.6 s in an order that jumps about.
        let wait = Duration::from_millis(u64::from(kill * 377 % 600));
        let handed = killed_after(folder.path(), wait);
        let lost_s = lost_s(folder.path(), handed, &mut evenings);
        assert!(lost_s <= MOST_LOST_S, "{lost_s} s of {handed} samples");
        worst_s = worst_s.max(lost_s);
        handed_s += handed as f64 / f64::from(RATE);
    }
    println!("{kills} kills in {handed_s:.0} s of sound: at most {worst_s:.2} s lost");
    assert!(evenings + 1 >= kills as usize / 2, "{evenings} of {kills}");
}
