//! Skeds and times in words.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::plain;
use markhold_skeds::{Channel, Figure, Sked};

/// One line of the list.
pub fn row(id: i64, sked: &Sked) -> String {
    let mut parts = vec![title(sked)];
    let when = &sked.when;
    let first = when.first.strftime("%Y-%m-%d %H:%M");
    parts.push(format!("{first} {}", plain(&when.zone)));
    parts.extend(when.rules.iter().map(|rule| comes(rule)));
    if !when.except.is_empty() {
        let days: Vec<String> = when.except.iter().map(ToString::to_string).collect();
        parts.push(format!("except {}", days.join(" ")));
    }
    if !when.also.is_empty() {
        parts.push(format!("and {} more times", when.also.len()));
    }
    parts.push(format!("{} min", sked.length_min));
    parts.push(match sked.channels.is_empty() {
        true => "no frequency".into(),
        false => sked
            .channels
            .iter()
            .map(channel)
            .collect::<Vec<_>>()
            .join(" / "),
    });
    let keying = [
        sked.shift_hz.map(|hz| format!("shift {hz}")),
        sked.rate_baud.map(|baud| format!("{baud} baud")),
    ];
    parts.extend(keying.into_iter().flatten());
    if !sked.print_on.is_empty() {
        parts.push(format!("printed on {}", plain(&sked.print_on)));
    }
    format!("{id:>4}  {}", parts.join(", "))
}

/// How often, in words where a rule has simple ones, else as it was written.
fn comes(rule: &str) -> String {
    match rule {
        "FREQ=DAILY" => "every day".into(),
        "FREQ=WEEKLY" => "every week".into(),
        _ => {
            let days = rule.strip_prefix("FREQ=WEEKLY;BYDAY=").and_then(named);
            days.map_or_else(|| plain(rule), |days| format!("every {days}"))
        }
    }
}

/// Days of the week by their names; none where one of them is no day.
fn named(days: &str) -> Option<String> {
    let name = |day: &str| {
        DAYS.iter()
            .find(|(code, _)| *code == day)
            .map(|(_, name)| *name)
    };
    let names: Option<Vec<_>> = days.split(',').map(name).collect();
    Some(names?.join(" and "))
}

/// Days as RFC 5545 writes them (3.3.10).
const DAYS: [(&str, &str); 7] = [
    ("MO", "Monday"),
    ("TU", "Tuesday"),
    ("WE", "Wednesday"),
    ("TH", "Thursday"),
    ("FR", "Friday"),
    ("SA", "Saturday"),
    ("SU", "Sunday"),
];

/// Station and name, for a terminal.
pub fn title(sked: &Sked) -> String {
    let both = match sked.station.is_empty() || sked.name.is_empty() {
        true => sked.title().to_string(),
        false => format!("{} ({})", sked.name, sked.station),
    };
    plain(&both)
}

/// A frequency with its meaning, as it may be typed.
pub fn channel(channel: &Channel) -> String {
    let khz = channel.khz;
    match channel.means {
        Figure::Middle => format!("{khz} kHz"),
        Figure::Mark => format!("{khz} kHz mark"),
        Figure::LowerCarrier { .. } => format!("{khz} kHz LSB"),
        Figure::UpperCarrier { .. } => format!("{khz} kHz USB"),
    }
}

/// `Sun 29 Nov 20:00 CET, 19:00 UTC`; with the day in UTC where that is another.
pub fn both_times(at: Timestamp, here: &TimeZone) -> String {
    let local = at.to_zoned_datetime(here.clone());
    let utc = at.to_zoned_datetime(TimeZone::UTC);
    let said = local.strftime("%a %-d %b %H:%M %Z");
    match (local.date() == utc.date(), local.offset() == utc.offset()) {
        (_, true) => utc.strftime("%a %-d %b %H:%M UTC").to_string(),
        (true, _) => format!("{said}, {} UTC", utc.strftime("%H:%M")),
        (false, _) => format!("{said}, {} UTC", utc.strftime("%a %H:%M")),
    }
}

/// `3 days`, `2 h 05 min`, `12 min`, `40 s`.
pub fn span(span: SignedDuration) -> String {
    let s = span.as_secs().abs();
    match s {
        0..60 => format!("{s} s"),
        60..3600 => format!("{} min", s / 60),
        3600..172_800 => format!("{} h {:02} min", s / 3600, s / 60 % 60),
        _ => format!("{} days", s / 86_400),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_in_both_clocks() {
        let at = |text: &str| text.parse::<Timestamp>().unwrap();
        let berlin = TimeZone::get("Europe/Berlin").unwrap();
        assert_eq!(
            both_times(at("2026-11-29T19:00:00Z"), &berlin),
            "Sun 29 Nov 20:00 CET, 19:00 UTC"
        );
        assert_eq!(
            both_times(at("2026-07-01T22:30:00Z"), &berlin),
            "Thu 2 Jul 00:30 CEST, Wed 22:30 UTC"
        );
        assert_eq!(
            both_times(at("2026-11-29T19:00:00Z"), &TimeZone::UTC),
            "Sun 29 Nov 19:00 UTC"
        );
    }

    #[test]
    fn simple_rules_have_words() {
        assert_eq!(comes("FREQ=DAILY"), "every day");
        assert_eq!(comes("FREQ=WEEKLY;BYDAY=TU,SU"), "every Tuesday and Sunday");
        for rule in [
            "FREQ=WEEKLY;BYDAY=TU;UNTIL=20261231",
            "FREQ=MONTHLY;BYDAY=1SU",
        ] {
            assert_eq!(comes(rule), rule);
        }
    }

    #[test]
    fn spans() {
        let said = [40, 59 * 60, 3600 + 300, 47 * 3600, 72 * 3600]
            .map(|s| span(SignedDuration::from_secs(s)));
        assert_eq!(
            said,
            ["40 s", "59 min", "1 h 05 min", "47 h 00 min", "3 days"]
        );
        assert_eq!(span(SignedDuration::from_secs(-90)), "1 min");
    }
}
