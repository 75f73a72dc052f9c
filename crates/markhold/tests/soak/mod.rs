//! A soak: a station listens to an invented evening at high speed, and something goes wrong
//! about once a minute of sound. At the end nothing may be missing that was not told, and
//! memory and descriptors must be flat.
//!
//! ```text
//!   evening (every sample and character known)
//!      |
//!   listener, a process of its own: station, shelf, paper, desk  <--- faults
//!      |
//!   shelf --> judge: what was sent, less what was told to be missing
//! ```
#![allow(
    missing_docs,
    dead_code,
    reason = "a test and a bench, each uses its own part"
)]

mod account;
mod evening;
mod fault;
mod flat;
mod judge;
mod listener;
mod lives;
#[path = "../random/mod.rs"]
mod random;
mod run;
mod spans;
mod states;

pub use listener::live_if_told;
pub use run::{Plan, soak};

use std::os::unix::process::CommandExt;
use std::process::Command;

/// Names the process that has mounts of its own.
const INSIDE: &str = "MARKHOLD_SOAK_INSIDE";

/// Begins this program anew in a place where a disk may be mounted that nobody else sees and
/// that goes with it. Returns where that cannot be, or in that place.
pub fn with_mounts_of_its_own() {
    if std::env::var_os(INSIDE).is_some() {
        return;
    }
    let unshare = |words: &[&str]| {
        let mut command = Command::new("unshare");
        command.args(words);
        command
    };
    // Root needs no name of its own, and may not be allowed one.
    let ways: [&[&str]; 2] = [
        &["--user", "--map-root-user", "--mount", "--"],
        &["--mount", "--"],
    ];
    let can = |words: &&[&str]| {
        let tried = unshare(words).arg("true").output();
        tried.is_ok_and(|tried| tried.status.success())
    };
    let Some(words) = ways.into_iter().find(|words| can(words)) else {
        return;
    };
    let program = std::env::current_exe().expect("this program");
    let error = unshare(words)
        .arg(program)
        .args(std::env::args_os().skip(1))
        .env(INSIDE, "yes")
        .exec();
    panic!("{error}");
}
