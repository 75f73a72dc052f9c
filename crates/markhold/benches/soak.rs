//! A day of sound at high speed, and something goes wrong every minute: nothing is missing
//! that was not told, memory and descriptors are flat.
//!
//! `cargo bench -p markhold --bench soak -- HOURS SPEED SEED MINUTES SETTLED EVERY`: hours of sound
//! (24), times real time (24), seed (1), after how many minutes it ends in any case (120), how old a
//! start is when its memory is looked at, hours of sound (1), and seconds of sound between two
//! faults in the mean (60; more than there are: what is wrong without any). The disk is
//! one of memory, mounted in a place of its own (Linux, `unshare` and `mount`); where that
//! cannot be, a full disk is not tried, and that is said. What is wrong fails the command.
#![allow(missing_docs, reason = "a bench")]

#[cfg(target_os = "linux")]
#[path = "../tests/late/mod.rs"]
mod late;
#[cfg(target_os = "linux")]
#[path = "../tests/soak/mod.rs"]
mod soak;

#[cfg(not(target_os = "linux"))]
fn main() {
    println!("needs Linux");
}

#[cfg(target_os = "linux")]
fn main() {
    use std::time::Duration;
    if soak::live_if_told() {
        return;
    }
    soak::with_mounts_of_its_own();
    let numbers = std::env::args().filter_map(|word| word.parse::<f64>().ok());
    let numbers: Vec<f64> = numbers.collect();
    let number = |k: usize, usual| numbers.get(k).copied().unwrap_or(usual);
    let sound_s = 3600.0 * number(0, 24.0);
    let plan = soak::Plan {
        sound_s,
        speed: number(1, 24.0),
        seed: number(2, 1.0) as u64,
        every_s: number(5, 60.0),
        one_life: (sound_s / 12.0, sound_s * 7.0 / 12.0),
        most: Duration::from_secs_f64(60.0 * number(3, 120.0)),
        turns: 12,
        settled_h: number(4, 1.0),
    };
    let wrong = soak::soak(&plan);
    std::process::exit(i32::from(!wrong.is_empty()));
}
