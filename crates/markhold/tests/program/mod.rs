//! The program that is tried.
#![allow(
    missing_docs,
    dead_code,
    reason = "tests and benches, each uses its own part"
)]

use std::path::PathBuf;

/// The one that was built with these tests; `MARKHOLD_PROGRAM` names it where they were carried
/// to another computer.
pub fn program() -> PathBuf {
    let told = std::env::var_os("MARKHOLD_PROGRAM");
    told.map_or_else(|| env!("CARGO_BIN_EXE_markhold").into(), PathBuf::from)
}

/// A number that a long run is told by this name, and its usual value.
///
/// # Panics
///
/// Where it is no number: nothing else than what was meant is to be tried.
pub fn told(name: &str, usual: u64) -> u64 {
    std::env::var(name).map_or(usual, |number| {
        let number = number.parse();
        number.unwrap_or_else(|error| panic!("{name}: {error}"))
    })
}
