//! Some minutes of sound in which something goes wrong every few seconds: nothing is missing
//! that was not told. `cargo bench -p markhold --bench soak` does it for a day of sound.
#![cfg(target_os = "linux")]
#![allow(missing_docs, reason = "a test")]

#[path = "late/mod.rs"]
mod late;
#[path = "soak/mod.rs"]
mod soak;

use std::time::Duration;

/// Not a test: the program that is tried, in a process of its own.
#[test]
fn leads_a_life_if_it_is_told() {
    soak::live_if_told();
}

#[test]
fn nothing_is_missing_that_was_not_told() {
    soak::with_mounts_of_its_own();
    let plan = soak::Plan {
        sound_s: 400.0,
        speed: 50.0,
        seed: 3,
        every_s: 12.0,
        one_life: (0.0, 0.0),
        most: Duration::from_secs(10),
        turns: 3,
        settled_h: 0.0,
    };
    let wrong = soak::soak(&plan);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
