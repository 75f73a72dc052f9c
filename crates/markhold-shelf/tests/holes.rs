//! Across a hole in the sound a receiver is led with silence only where the live one was: what
//! lies before a longer one is never read by what comes after it.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::{scene, sound};
use common::*;
use markhold_air::Scene;
use markhold_event::Event;
use markhold_receive::Settings;
use markhold_shelf::{GapCause, Keeper, Shelf, settings_to_json};

const TEXT: &str = "BULLETIN FROM Q1MARSH THE ROPEWALK OPENS AT NINE WIND FROM NORTH TIDE IS LATE ";

/// Where nobody sends, s.
const QUIET_S: f64 = 25.0;

/// Noise, then a sender.
fn evening_of(seed: u64) -> Vec<f32> {
    let mut scene = Scene {
        seed,
        ..scene(&TEXT.repeat(2))
    };
    scene.senders[0].begin_s = QUIET_S;
    sound(scene, 8_000)
}

/// How many characters a reading has that begin before this.
fn before(shelf: &Shelf, reading: i64, until_s: f64) -> usize {
    let mut count = 0;
    let take = &mut |event| {
        if let Event::Character(c) = event {
            count += usize::from(c.start_s < until_s);
        }
    };
    shelf.events(reading, take).unwrap();
    count
}

#[test]
fn what_lies_before_a_long_hole_is_not_read_by_what_comes_after_it() {
    for seed in 1..=6 {
        for hole_s in [6.5, 20.0] {
            let folder = tempfile::tempdir().unwrap();
            let about = markhold_shelf::Evening {
                settings: settings_to_json(&Settings::default()),
                ..evening()
            };
            let keeper = Keeper::begin(folder.path(), about, settings()).unwrap();
            let heard = evening_of(seed);
            // The sender begins in the hole.
            let until = ((QUIET_S - 3.0) * 8e3) as usize;
            let from = until + (hole_s * 8e3) as usize;
            give(&keeper, &heard[..until]);
            keeper.gap((from - until) as u64, GapCause::Device);
            give(&keeper, &heard[from..]);
            keeper.finish().unwrap();
            let mut shelf = Shelf::open(folder.path()).unwrap();
            let reading = shelf
                .copy_again(1, &Settings::default(), &mut |_| {})
                .unwrap();
            let all = before(&shelf, reading, f64::INFINITY);
            let invented = before(&shelf, reading, QUIET_S - 3.0);
            println!("{seed} {hole_s}: {all} {invented}");
            assert!(all > 20, "{seed} {hole_s}: {all}");
            assert_eq!(invented, 0, "seed {seed}, a hole of {hole_s} s, of {all}");
        }
    }
}
