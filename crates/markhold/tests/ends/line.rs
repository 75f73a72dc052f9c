//! The line: a pseudo terminal behind `line.c`, and what that wrote down.

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::Command;

/// One line of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    pub at_ns: u64,
    pub pid: u32,
    pub what: String,
    pub value: u32,
}

/// The library that stands for the wires of a port; `None` where it cannot be made.
/// `MARKHOLD_LINE` names one that was made elsewhere.
pub fn shim(folder: &Path) -> Option<PathBuf> {
    if !cfg!(target_os = "linux") {
        return None;
    }
    if let Some(made) = std::env::var_os("MARKHOLD_LINE") {
        return Some(made.into());
    }
    let shim = folder.join("line.so");
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/ends/line.c");
    let made = Command::new("cc")
        .args(["-shared", "-fPIC", "-o"])
        .args([&shim, &source])
        .status();
    made.is_ok_and(|status| status.success()).then_some(shim)
}

/// A pseudo terminal that no process started meanwhile inherits, and the name of its port.
pub fn pty() -> std::io::Result<(OwnedFd, String)> {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    let name = ptsname(&master, Vec::new())?;
    Ok((master, name.to_string_lossy().into_owned()))
}

pub fn now_ns() -> u64 {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
    now.tv_sec as u64 * 1_000_000_000 + now.tv_nsec as u64
}

pub fn changes(log: &Path) -> Vec<Change> {
    let text = std::fs::read_to_string(log).unwrap_or_default();
    let change = |line: &str| {
        let mut words = line.split(' ');
        Some(Change {
            at_ns: words.next()?.parse().ok()?,
            pid: words.next()?.parse().ok()?,
            what: words.next()?.to_string(),
            value: words.next()?.parse().ok()?,
        })
    };
    let mut all: Vec<_> = text.lines().filter_map(change).collect();
    // Two processes write; each line is whole.
    all.sort_by_key(|change| change.at_ns);
    all
}
