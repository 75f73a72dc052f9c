//! Time stamps that come one by one, from a pipe or a serial port.

use super::{Counting, Errors, Gathered};
use crate::outcome::say;
use anyhow::Context;
use markhold_bench::stamps::edge_of;
use markhold_wire::PortReader;
use std::io::{BufRead, BufReader, Read};

/// What timing interfaces on a serial port usually speak (common practice).
const BAUD: u32 = 115_200;

/// From a serial port.
pub fn port(name: &str, counting: &mut Counting) -> anyhow::Result<()> {
    counting.about.source = format!("time stamps at {BAUD} baud");
    let reader = PortReader::open(name, BAUD)?;
    say(&format!("measuring {name}; Ctrl-C ends it"));
    lines(BufReader::new(reader), counting)
}

/// From standard input.
pub fn pipe(input: impl Read, counting: &mut Counting) -> anyhow::Result<()> {
    counting.about.source = "time stamps".into();
    lines(BufReader::new(input), counting)
}

/// From anything that gives lines.
fn lines(input: impl BufRead, counting: &mut Counting) -> anyhow::Result<()> {
    let grain_s = counting.how.grain_s;
    // Rounding to a grain is uniform.
    let errors = Errors {
        noise_s: grain_s / 12f64.sqrt(),
        worst_s: grain_s / 2.0,
        systematic_s: 0.0,
    };
    let mut gathered = Gathered::new(counting.how.every);
    for (k, line) in input.lines().enumerate() {
        let at = || format!("line {}", k + 1);
        let line = line.with_context(at)?;
        let Some(edge) = edge_of(&line).with_context(at)? else {
            continue;
        };
        if !gathered.add(edge, errors, counting)? {
            return Ok(());
        }
    }
    gathered.look(errors, counting)
}
