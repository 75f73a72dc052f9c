//! From words on the command line to a sked.

use super::options::Said;
use anyhow::{Context, bail};
use jiff::civil::DateTime;
use markhold_skeds::{Channel, Except, Figure, MarkOnAir, Sked, When};

/// Minutes where nothing is said.
const USUAL_MIN: f64 = 30.0;

/// A new sked of that name.
pub fn new(name: &str, said: &Said) -> anyhow::Result<Sked> {
    let Some(at) = &said.at else {
        bail!(
            "--at is missing: say when it begins on the sender's clock, as --at 2026-01-04T20:00"
        );
    };
    let sked = Sked {
        station: String::new(),
        name: name.to_string(),
        sends: String::new(),
        channels: Vec::new(),
        shift_hz: None,
        rate_baud: None,
        mark: None,
        when: When {
            zone: "UTC".into(),
            first: time(at)?,
            rules: Vec::new(),
            except: Vec::new(),
            also: Vec::new(),
        },
        length_min: USUAL_MIN,
        place: String::new(),
        notes: String::new(),
        print_on: String::new(),
    };
    changed(sked, said)
}

/// A sked with what was said in the place of what was there; it has been looked at.
pub fn changed(mut sked: Sked, said: &Said) -> anyhow::Result<Sked> {
    let text = |to: &mut String, said: &Option<String>| {
        if let Some(said) = said {
            *to = said.clone();
        }
    };
    text(&mut sked.station, &said.station);
    text(&mut sked.sends, &said.sends);
    text(&mut sked.place, &said.stands);
    text(&mut sked.notes, &said.notes);
    text(&mut sked.print_on, &said.print_on);
    text(&mut sked.when.zone, &said.zone);
    if let Some(at) = &said.at {
        sked.when.first = time(at)?;
    }
    if let Some(rules) = &said.rules {
        sked.when.rules = named(rules).map(String::from).collect();
    }
    if let Some(except) = &said.except {
        let parsed = named(except).map(|text| text.parse::<Except>());
        sked.when.except = parsed
            .collect::<Result<_, _>>()
            .map_err(anyhow::Error::msg)?;
    }
    if let Some(also) = &said.also {
        sked.when.also = named(also).map(time).collect::<Result<_, _>>()?;
    }
    if let Some(channels) = &said.channels {
        sked.channels = named(channels).map(channel).collect::<Result<_, _>>()?;
    }
    sked.shift_hz = said.shift.or(sked.shift_hz);
    sked.rate_baud = said.rate.or(sked.rate_baud);
    sked.mark = said.mark.map(MarkOnAir::from).or(sked.mark);
    sked.length_min = said.length.unwrap_or(sked.length_min);
    sked.check()?;
    // Zone and rules are understood, or it is said here and not on the evening.
    let all = (jiff::Timestamp::UNIX_EPOCH, jiff::Timestamp::MAX);
    let comes = sked.when.occurrences(jiff::tz::db(), all, 1)?;
    if comes.is_empty() {
        bail!("this never comes: look at its rules and exceptions");
    }
    Ok(sked)
}

/// An empty word stands for none.
fn named(words: &[String]) -> impl Iterator<Item = &str> {
    words
        .iter()
        .map(|word| word.trim())
        .filter(|word| !word.is_empty())
}

fn time(text: &str) -> anyhow::Result<DateTime> {
    let is_time = text.contains(['T', 't', ' ']);
    let parsed = text.parse::<DateTime>().ok().filter(|_| is_time);
    parsed.with_context(|| {
        format!("\"{text}\" is no time on a clock: expected 2026-01-04T20:00, without a zone")
    })
}

/// A frequency as typed.
fn channel(text: &str) -> anyhow::Result<Channel> {
    let wrong = || {
        format!(
            "\"{text}\" is no frequency: expected kHz such as 3597, 3595.2,mark or 7047.79,usb,2210"
        )
    };
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let number = |text: &str| text.parse::<f64>().ok().with_context(wrong);
    let means = match parts[1..] {
        [] | ["middle"] => Figure::Middle,
        ["mark"] => Figure::Mark,
        ["lsb", pitch] => Figure::LowerCarrier {
            pitch_hz: number(pitch)?,
        },
        ["usb", pitch] => Figure::UpperCarrier {
            pitch_hz: number(pitch)?,
        },
        ["lsb" | "usb"] => bail!(
            "\"{text}\" lacks the middle of the sender's tones: with tones of 2125 and 2295 Hz it is {text},2210"
        ),
        _ => bail!(wrong()),
    };
    Ok(Channel {
        khz: number(parts[0])?,
        means,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frequencies_have_meanings() {
        let means = |text| {
            channel(text)
                .map(|c| (c.khz, c.means))
                .map_err(|e| e.to_string())
        };
        assert_eq!(means("3597"), Ok((3597.0, Figure::Middle)));
        assert_eq!(means("3595.2, mark"), Ok((3595.2, Figure::Mark)));
        assert_eq!(
            means("7047.79,usb,2210"),
            Ok((7047.79, Figure::UpperCarrier { pitch_hz: 2210.0 }))
        );
        for (bad, said) in [
            ("7047.79,usb", "7047.79,usb,2210"),
            ("", "no frequency"),
            ("3597,odd", "no frequency"),
            ("x", "no frequency"),
        ] {
            assert!(means(bad).unwrap_err().contains(said), "{bad}");
        }
    }

    #[test]
    fn a_change_leaves_what_was_not_said() {
        let said = Said {
            at: Some("2026-01-04T20:00".into()),
            rules: Some(vec!["FREQ=WEEKLY".into()]),
            ..Said::default()
        };
        let sked = new("News", &said).unwrap();
        let change = Said {
            length: Some(45.0),
            rules: Some(vec!["".into()]),
            ..Said::default()
        };
        let changed = changed(sked.clone(), &change).unwrap();
        assert_eq!((changed.length_min, changed.when.rules.len()), (45.0, 0));
        assert_eq!(changed.when.first, sked.when.first);
    }
}
