//! `markhold skeds heard`: where the dial stood.

use super::Receiver;
use super::object::Object;
use super::options::Heard;
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use anyhow::{Context, bail};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use markhold_shelf::Shelf;
use markhold_skeds::learned::{Found, LearnedDial, band, night};
use markhold_skeds::{Channel, Dial, Sked};
use std::io::stdout;

/// Farther off than this no dial is, kHz: then the figure is wrong, or another sideband is meant.
const MOST_OFF_KHZ: f64 = 50.0;

pub fn run(shelf: &mut Shelf, heard: &Heard, receiver: &Receiver) -> anyhow::Result<Outcome> {
    let Some(dial) = receiver.dial else {
        bail!(
            "the receiver is not described: write [receiver] into the settings file; see markhold skeds --help"
        );
    };
    let sked = shelf.sked(heard.id)?;
    let minutes = heard.minutes_on;
    if minutes.is_some_and(|minutes| !(0.0..=1e5).contains(&minutes)) {
        bail!("--minutes-on: expected minutes from 0 on since the receiver was switched on");
    }
    let (channel, reads_high_hz) = error(&dial, &sked, heard)?;
    let (band, now) = (band(channel.khz), Timestamp::now());
    let found = Found {
        minutes_on: minutes,
        reads_high_hz,
    };
    let night = night(now, &TimeZone::system());
    shelf.dial_was_found((now, &night), (band, found), None)?;
    let learned = LearnedDial::of(&shelf.dial_found()?);
    if heard.json {
        let evenings = learned.evenings(band);
        line(
            &mut stdout().lock(),
            &Object::Heard {
                sked: heard.id,
                band,
                reads_high_hz,
                evenings,
            },
        )?;
    }
    let side = if reads_high_hz >= 0.0 { "high" } else { "low" };
    say(&format!(
        "It read {:.2} kHz {side}. From now on: {}.",
        reads_high_hz.abs() / 1e3,
        learned.words(band, &dial)
    ));
    Ok(Outcome::Done)
}

/// The channel that was heard, which is the one nearest to the dial, and how many Hz too high that read.
fn error(dial: &Dial, sked: &Sked, heard: &Heard) -> anyhow::Result<(Channel, f64)> {
    if sked.channels.is_empty() {
        bail!("this sked has no frequency: markhold skeds change NUMBER --on 3597");
    }
    let middle = heard.middle.unwrap_or(dial.pitch_hz);
    let found = dial.found(sked, (heard.dial, middle));
    let (channel, error) = found.context("a dial that shows mark or what is heard cannot be told from outside; nothing is learned of it")?;
    // What is no number is none of these either.
    if error.abs() <= MOST_OFF_KHZ * 1e3 {
        return Ok((channel, error));
    }
    bail!(
        "with the dial at {} kHz that is {:.0} kHz off all of its frequencies: look at the figure and at [receiver]",
        heard.dial,
        error.abs() / 1e3
    )
}
