//! Reads lines of JSON, each a [`When`] with `from`, `until` and `most`, and prints for each the
//! instants at which it comes as Unix seconds, or its error. `checks/check_skeds.py` asks it, and
//! Python's dateutil, and compares.
//!
//! Zones are read from the folder `TZDIR` where that is set.

use jiff::{SignedDuration, Timestamp};
use markhold_skeds::When;
use std::io::{BufRead, Write};

#[derive(serde::Deserialize)]
struct Asked {
    when: When,
    from: i64,
    until: i64,
    most: usize,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let asked: Asked = serde_json::from_str(&line?)?;
        let at = |s| Timestamp::from_duration(SignedDuration::from_secs(s));
        let span = (at(asked.from)?, at(asked.until)?);
        match asked.when.occurrences(jiff::tz::db(), span, asked.most) {
            Ok(found) => {
                let seconds: Vec<i64> = found.iter().map(|at| at.as_second()).collect();
                writeln!(out, "{}", serde_json::to_string(&seconds)?)?;
            }
            Err(error) => writeln!(out, "{}", serde_json::to_string(&error.to_string())?)?,
        }
    }
    Ok(())
}
