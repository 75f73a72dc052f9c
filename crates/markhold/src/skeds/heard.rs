//! `markhold skeds heard`: where the dial stood.

use super::Receiver;
use super::object::Object;
use super::options::Heard;
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use anyhow::{Context, bail};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::Shelf;
use markhold_skeds::learned::{Found, LearnedDial, band};
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
    shelf.dial_was_found((now, &night(now)), band, found)?;
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
    let middle = heard.middle.unwrap_or(dial.pitch_hz);
    let off = |channel: &Channel| dial.reads_high_hz(sked, channel, (heard.dial, middle));
    let mut errors = Vec::new();
    for channel in &sked.channels {
        let error = off(channel).context("a dial that shows mark or what is heard cannot be told from outside; nothing is learned of it")?;
        errors.push((*channel, error));
    }
    let nearest = errors
        .into_iter()
        .min_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let (channel, error) =
        nearest.context("this sked has no frequency: markhold skeds change NUMBER --on 3597")?;
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

/// The name of an evening: the date at noon before it, by the station's clock.
fn night(now: Timestamp) -> String {
    let noon = now
        .saturating_sub(SignedDuration::from_hours(12))
        .unwrap_or(now);
    noon.to_zoned_datetime(TimeZone::system())
        .date()
        .to_string()
}
