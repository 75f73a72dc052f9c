//! Reads lines of latitude, longitude and date, such as `33.77 -84.42 2007-01-01`, and prints for
//! each when the sun rises and sets, in UTC, or `up` or `down` all day. `checks/check_skeds.py` asks
//! it, and an almanac, and compares.

use markhold_skeds::{Daylight, Height, Place, daylight};
use std::io::{BufRead, Write};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        let words: Vec<&str> = line.split_whitespace().collect();
        let [latitude, longitude, date] = words[..] else {
            return Err(format!("\"{line}\": expected latitude, longitude and date").into());
        };
        let place = Place {
            latitude: latitude.parse()?,
            longitude: longitude.parse()?,
        };
        match daylight(place, date.parse()?, Height::Horizon) {
            Daylight::Between { rise, set } => writeln!(out, "{rise} {set}")?,
            Daylight::Always => writeln!(out, "up")?,
            Daylight::Never => writeln!(out, "down")?,
        }
    }
    Ok(())
}
