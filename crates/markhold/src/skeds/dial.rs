//! `markhold skeds dial`: where the dial stands, and what is known of it.

use super::object::{BandObject, Object, StandsObject, WarmUpObject};
use super::options::DialSaid;
use super::{Receiver, words};
use crate::outcome::Outcome;
use crate::shelf::line;
use anyhow::{Context, bail};
use jiff::civil::Time;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::Shelf;
use markhold_skeds::Dial;
use markhold_skeds::learned::{LearnedDial, Stands, ToldBy};
use std::io::{Write, stdout};

pub fn run(shelf: &mut Shelf, said: &DialSaid, receiver: &Receiver) -> anyhow::Result<Outcome> {
    let Some(dial) = receiver.dial else {
        bail!(
            "the receiver is not described: write [receiver] into the settings file; see markhold skeds --help"
        );
    };
    let now = Timestamp::now();
    let on = said.switched_on.as_deref();
    let on = on.map(|text| time(text, now)).transpose()?;
    if said.khz.is_some() || on.is_some() || said.forget {
        let before = shelf.dial_stands(now)?;
        let stands = told(before, now, (said.khz, on, said.forget))?;
        shelf.dial_was_set(&stands)?;
    }
    let stands = shelf.dial_stands(now)?;
    let learned = LearnedDial::of(&shelf.dial_found()?);
    match said.json {
        true => line(&mut stdout().lock(), &object(stands.as_ref(), &learned))?,
        false => {
            let mut out = stdout().lock();
            lines(stands.as_ref(), &learned, &dial)
                .iter()
                .try_for_each(|text| writeln!(out, "{text}"))?;
        }
    }
    Ok(Outcome::Done)
}

/// Where it stands after the person said something of it; what was not said stays as it was.
pub fn told(
    before: Option<Stands>,
    now: Timestamp,
    (khz, on, forget): (Option<f64>, Option<Timestamp>, bool),
) -> anyhow::Result<Stands> {
    if let Some(khz) = khz.filter(|khz| !(10.0..=1e6).contains(khz)) {
        bail!("the dial at {khz} kHz: expected kHz from 10 to 1 000 000");
    }
    let kept = before.and_then(|stands| stands.khz).filter(|_| !forget);
    Ok(Stands {
        at: now,
        khz: khz.or(kept),
        on: on.or_else(|| before.and_then(|stands| stands.on)),
        by: ToldBy::Person,
    })
}

/// A time of the last day by the station's clock.
fn time(text: &str, now: Timestamp) -> anyhow::Result<Timestamp> {
    if text == "now" {
        return Ok(now);
    }
    let wrong =
        || format!("\"{text}\" is no time: expected now, or hours and minutes such as 19:40");
    let time: Time = text.parse().with_context(wrong)?;
    let here = TimeZone::system();
    let today = now.to_zoned_datetime(here.clone()).date();
    let of_day = |date: jiff::civil::Date| here.to_timestamp(date.to_datetime(time));
    let at = of_day(today)?;
    match at <= now {
        true => Ok(at),
        false => Ok(of_day(today.yesterday()?)?),
    }
}

fn lines(stands: Option<&Stands>, learned: &LearnedDial, dial: &Dial) -> Vec<String> {
    let here = TimeZone::system();
    let mut lines = vec![match stands.and_then(|s| Some((s, s.khz?))) {
        Some((stands, khz)) => {
            let by = match stands.by {
                ToldBy::Person => "as you said",
                ToldBy::Radio => "as the radio says",
            };
            let since = words::both_times(stands.at, &here);
            format!("the dial stands at {khz:.3} kHz, {by}, since {since}")
        }
        None => "where the dial stands is not known: markhold skeds dial 3597.9".to_string(),
    }];
    if let Some(on) = stands.and_then(|stands| stands.on) {
        let for_s = Timestamp::now()
            .duration_since(on)
            .max(SignedDuration::ZERO);
        lines.push(format!(
            "the receiver has been on for {}",
            words::span(for_s)
        ));
    }
    for band in learned.bands() {
        lines.push(format!("{band} MHz: {}", learned.words(band, dial)));
    }
    if let Some(curve) = learned.warm_up() {
        lines.push(format!(
            "warm-up, by {} evenings: it begins {:.0} Hz off where it comes to rest, and a third of that is left after {:.0} min",
            curve.evenings,
            curve.amount.middle.abs(),
            curve.constant_min
        ));
    }
    lines
}

fn object<'a>(stands: Option<&Stands>, learned: &LearnedDial) -> Object<'a> {
    let band = |band: u32| {
        let hint = learned
            .hint(band, f64::INFINITY)
            .map(|hint| hint.reads_high_hz);
        BandObject {
            band,
            evenings: learned.evenings(band),
            reads_high_hz: hint.map(|likely| likely.middle),
            within_hz: hint.map(|likely| likely.within),
        }
    };
    Object::Dial {
        stands: stands.map(StandsObject::of),
        bands: learned.bands().into_iter().map(band).collect(),
        warm_up: learned.warm_up().map(|curve| WarmUpObject {
            evenings: curve.evenings,
            constant_min: curve.constant_min,
            amount_hz: curve.amount.middle,
            within_hz: curve.amount.within,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_said_stays() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let (before, now) = (at("2026-03-01T19:00:00Z"), at("2026-03-01T19:10:00Z"));
        let first = told(None, before, (Some(3597.9), None, false)).unwrap();
        assert_eq!((first.khz, first.on), (Some(3597.9), None));
        let on = told(Some(first), now, (None, Some(before), false)).unwrap();
        assert_eq!((on.khz, on.on, on.at), (Some(3597.9), Some(before), now));
        let gone = told(Some(on), now, (None, None, true)).unwrap();
        assert_eq!((gone.khz, gone.on), (None, Some(before)));
        for bad in [f64::NAN, -3.0, 1e9] {
            assert!(told(None, now, (Some(bad), None, false)).is_err());
        }
    }

    #[test]
    fn a_time_is_the_latest_of_that_name() {
        let now = Timestamp::now();
        assert_eq!(time("now", now).unwrap(), now);
        for text in ["00:00", "12:30", "23:59"] {
            let at = time(text, now).unwrap();
            let since = now.duration_since(at);
            // A day with a change of the clock has up to 25 hours.
            assert!((0..=25 * 3600).contains(&since.as_secs()), "{text} {since}");
        }
        assert!(time("soon", now).unwrap_err().to_string().contains("19:40"));
    }
}
