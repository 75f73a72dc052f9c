//! What several tests of the shelf need.

#![allow(
    missing_docs,
    dead_code,
    reason = "each test file uses its own part of it"
)]

pub mod characters;
pub mod disk;
pub mod sending;

use characters::characters_from;
use markhold_event::{Event, Sense, Signal, SignalId};
use markhold_shelf::{Evening, KeepNotice, KeepSettings, KeepState, Keeper};
use markhold_sound::{ReadOptions, SoundReader};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

pub fn fixture(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "tests", "fixtures", name]
        .iter()
        .collect()
}

pub const RATE: u32 = 8_000;

pub fn evening() -> Evening {
    evening_at("2026-03-21T20:30:05+01:00[Europe/Berlin]")
}

pub fn evening_at(begin: &str) -> Evening {
    Evening {
        begin: begin.parse().unwrap(),
        input: "receiver on the marsh".to_string(),
        rate: RATE,
        settings: serde_json::json!({"all": true}),
    }
}

/// Settings that leave the disk of the test machine out of it; nobody works in the background.
pub fn settings() -> KeepSettings {
    KeepSettings {
        spare_bytes: 0,
        care: false,
        ..KeepSettings::default()
    }
}

/// Samples whose every value tells its place, at 16 bits.
pub fn ramp(from: u64, count: u64) -> Vec<f32> {
    (from..from + count)
        .map(|k| (k % 30_011) as f32 / 32_768.0)
        .collect()
}

/// All samples of a file.
pub fn samples(path: &Path) -> Vec<f32> {
    let mut sound = SoundReader::open(path, &ReadOptions::default()).unwrap();
    let mut all = Vec::new();
    let mut block = [0.0; 4096];
    loop {
        match sound.read(&mut block).unwrap() {
            0 => return all,
            count => all.extend_from_slice(&block[..count]),
        }
    }
}

/// Gives sound no faster than it is written.
pub fn give(keeper: &Keeper, sound: &[f32]) {
    for block in sound.chunks(1_000) {
        while keeper.waiting_s() > 0.5 {
            std::thread::sleep(Duration::from_millis(1));
        }
        keeper.sound(block);
    }
}

/// Waits until the keeper has written all sound.
pub fn settle(keeper: &Keeper) {
    while keeper.waiting_s() > 0.0 {
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// Waits for a notice, with a bound so that a failing test ends.
pub fn wait_for(keeper: &Keeper, wanted: impl Fn(&KeepNotice) -> bool) -> KeepNotice {
    let begin = Instant::now();
    // What is done behind everybody else takes its time on a busy computer.
    while begin.elapsed() < Duration::from_secs(600) {
        if let Some(notice) = keeper.notices().into_iter().find(|n| wanted(n)) {
            return notice;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("no such notice came");
}

/// Waits for a state, with a bound so that a failing test ends; how long it took.
pub fn wait_until(keeper: &Keeper, wanted: impl Fn(&KeepState) -> bool) -> Duration {
    let begin = Instant::now();
    while begin.elapsed() < Duration::from_secs(60) {
        if wanted(&keeper.state().1) {
            return begin.elapsed();
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    panic!("it stayed {:?}", keeper.state().1);
}

pub fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 3.25,
        until_s: 64.0,
        mark_hz: 1275.0,
        space_hz: 1445.25,
        shift_hz: 170.25,
        usual_shift_hz: Some(170.0),
        rate_baud: 45.45,
        usual_rate_baud: Some(1.0 / 0.022),
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 1.8,
        drift_hz: -3.0,
        drift_hz_per_min: -1.5,
    }
}

/// A signal found, its text from `begin_s` on and its end; a character before a `?` is
/// doubtful.
pub fn transmission(id: u32, begin_s: f64, text: &str) -> Vec<Event> {
    let characters = characters_from(id, begin_s, text);
    let characters = characters.into_iter().map(Event::Character);
    let found = Signal {
        begin_s,
        ..signal(id)
    };
    std::iter::once(Event::Found(found.clone()))
        .chain(characters)
        .chain([Event::Ended(found)])
        .collect()
}
