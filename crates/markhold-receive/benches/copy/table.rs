//! The table of results, in Markdown.

use crate::case::{Case, Length, Target};
use crate::measure::Outcome;

/// Headings and the line under them.
pub fn head() -> String {
    let columns = [
        "case",
        "characters",
        "CER",
        "glyphs wrong",
        "target",
        "bound or ceiling",
        "",
    ];
    let under = ["---", "---:", "---:", "---:", "---:", "---", "---"];
    format!("{}\n{}", row(&columns), row(&under))
}

/// One case.
pub fn line(case: &Case, outcome: Outcome) -> String {
    let nothing_sent = matches!(case.length, Length::Hour);
    let sent = if nothing_sent {
        format!("{} min", (outcome.seconds / 60.0).round())
    } else {
        outcome.sent.to_string()
    };
    let found = if nothing_sent {
        format!("{} an hour", significant(outcome.rate()))
    } else {
        format!("{} %", significant(outcome.rate()))
    };
    let glyphs = outcome
        .glyph_rate()
        .map_or(String::new(), |rate| format!("{} %", significant(rate)));
    let targets: Vec<String> = case
        .targets
        .iter()
        .map(|t| wanted(t, nothing_sent))
        .collect();
    let verdicts: Vec<&str> = case.targets.iter().map(|t| verdict(t, outcome)).collect();
    row(&[
        &case.name,
        &sent,
        &found,
        &glyphs,
        &targets.join("; "),
        case.ceiling,
        &verdicts.join("; "),
    ])
}

/// Whether everything the case must reach is reached.
pub fn is_met(case: &Case, outcome: Outcome) -> bool {
    case.targets.iter().all(|t| outcome.rate() <= t.percent)
}

fn wanted(target: &Target, nothing_sent: bool) -> String {
    let unit = if nothing_sent { "an hour" } else { "%" };
    match target.of {
        "" => format!("{} {unit}", target.percent),
        of if nothing_sent => format!("{} {of} {unit}", target.percent),
        of => format!("{} {unit} {of}", target.percent),
    }
}

fn verdict(target: &Target, outcome: Outcome) -> &'static str {
    if outcome.rate() <= target.percent {
        "met"
    } else {
        "**missed**"
    }
}

/// Two digits below ten, one after the point above.
fn significant(rate: f64) -> String {
    if rate < 10.0 {
        format!("{rate:.2}")
    } else {
        format!("{rate:.1}")
    }
}

fn row(cells: &[&str]) -> String {
    format!("| {} |", cells.join(" | "))
}
