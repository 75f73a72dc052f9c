//! `markhold shelf join`.

mod object;
mod options;
mod text;

pub use options::Join;

use super::when::Zone;
use crate::copy::options::marker;
use crate::outcome::{Outcome, say};
use anyhow::Context;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::joined::{Joined, KeptCopy, Which};
use markhold_shelf::{Shelf, plain};
use std::io::{IsTerminal, Write, stdout};

pub fn run(shelf: &Shelf, options: &Join, zone: &Zone) -> anyhow::Result<Outcome> {
    let mut which = asked(shelf, &options.evenings, zone)?;
    which.extend(of_skeds(shelf, options, zone)?);
    let joined = match options.as_kept {
        true => shelf.join(&which)?,
        false => shelf.join_again(&which, &mut |copy, from_s, until_s| {
            say(&text::looking(copy, from_s, until_s));
        })?,
    };
    let better = joined.looked.iter().filter(|l| l.better).count();
    if !joined.looked.is_empty() {
        let all = joined.looked.len();
        say(&format!(
            "{better} of {all} stretches heard again are surer now"
        ));
    }
    joined.copies.iter().for_each(|c| say(&about(c, zone)));
    let mut out = stdout().lock();
    for joint in &joined.joints {
        say(&text::about(&joined, joint));
        if options.json {
            object::print(&mut out, &joined, joint)?;
            continue;
        }
        let marker = marker(options.doubt, stdout().is_terminal());
        writeln!(out, "== {} ==", joined.names(&joint.copies))?;
        for line in joined.lines(joint) {
            let text = text::line(&joined, joint, &line, marker);
            match options.bearers {
                true => writeln!(out, "{}  {text}", text::bearers(&joined, &line))?,
                false => writeln!(out, "{text}")?,
            }
        }
        for variant in text::variants(&joined, joint, zone) {
            writeln!(out, "{variant}")?;
        }
        let missing = text::missing(&joined, joint);
        missing.iter().for_each(|m| say(&format!("missing: {m}")));
    }
    alone(&joined);
    next_chance(shelf, &options.sked, zone)?;
    Ok(match joined.joints.is_empty() {
        true => Outcome::NothingFound,
        false => Outcome::Done,
    })
}

/// How far back the runs of skeds are joined where nobody says.
const BACK: SignedDuration = SignedDuration::from_hours(14 * 24);

/// What was kept of the skeds that were named.
fn of_skeds(shelf: &Shelf, options: &Join, zone: &Zone) -> anyhow::Result<Vec<Which>> {
    if options.sked.is_empty() {
        return Ok(Vec::new());
    }
    let from = match &options.from {
        Some(date) => zone.from(date)?,
        None => Timestamp::now() - BACK,
    };
    let kept = shelf.kept_of_skeds(&options.sked, from)?;
    if kept.is_empty() {
        say("markhold: nothing is kept of these skeds from then on (--from looks further back)");
    }
    Ok(kept)
}

/// Says when the skeds that were named come next.
fn next_chance(shelf: &Shelf, skeds: &[i64], zone: &Zone) -> anyhow::Result<()> {
    if let Some((id, at)) = shelf.next_chance(skeds, Timestamp::now())? {
        let here = at.to_zoned_datetime(TimeZone::system());
        let title = plain(shelf.sked(id)?.title());
        say(&format!(
            "next chance: sked {id}, {title}, {}",
            zone.full(&here)
        ));
    }
    Ok(())
}

/// The evenings and signals that were asked for.
pub fn asked(shelf: &Shelf, words: &[String], zone: &Zone) -> anyhow::Result<Vec<Which>> {
    let which = |word: &String| {
        let (evening, signal) = parts(word)?;
        let evening = super::evening(shelf, evening, zone)?.id;
        Ok(Which { evening, signal })
    };
    words.iter().map(which).collect()
}

/// `12/2`: evening 12 and its signal 2.
fn parts(asked: &str) -> anyhow::Result<(&str, Option<u32>)> {
    match asked.split_once('/') {
        None => Ok((asked, None)),
        Some((evening, signal)) => {
            let expected = || format!("\"{signal}\" is no signal: expected a number, as in 12/2");
            Ok((evening, Some(signal.parse().with_context(expected)?)))
        }
    }
}

/// `A: evening 12, signal 1, 2026-03-21 20:30:05 CET, 4312 characters, 31 % doubtful`.
fn about(copy: &KeptCopy, zone: &Zone) -> String {
    let count = copy.characters.len();
    format!(
        "{}: evening {}, signal {}, {}, {count} characters, {:.0} % doubtful",
        copy.name,
        copy.evening,
        copy.signal,
        zone.full(&copy.begin),
        100.0 * copy.doubtful() as f64 / count.max(1) as f64
    )
}

/// Says which copies repeat none of the others.
fn alone(joined: &Joined) {
    let left = joined.alone();
    if !left.is_empty() {
        let names = joined.names(&left);
        say(&format!(
            "markhold: {names}: nothing that another copy repeats"
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_evening_or_a_signal_of_it() {
        assert_eq!(parts("12").unwrap(), ("12", None));
        assert_eq!(parts("2026-03-21/2").unwrap(), ("2026-03-21", Some(2)));
        let error = parts("12/x").unwrap_err().to_string();
        assert!(error.contains("as in 12/2"), "{error}");
    }
}
