//! A window of a line that is measured while it comes, in a few lines.

use super::{About, compared, signed, verdict};
use markhold_bench::drawing::blocks;
use markhold_bench::limits::{Verdict, judge};
use markhold_bench::measure::Measurement;
use std::fmt::Write;

/// Window number `window`, counted from 0: histogram, figures, verdict.
pub fn running(about: &About, window: u64, measured: &Measurement) -> String {
    let m = measured;
    let count = m.characters.len() as u64;
    let mut out = String::new();
    if window == 0 {
        let _ = writeln!(out, "{}: {}", about.name, about.source);
        if let Some(tones) = about.tones() {
            let _ = writeln!(out, "{tones}");
        }
    }
    let _ = writeln!(
        out,
        "\ncharacters {} to {}",
        window * count + 1,
        (window + 1) * count
    );
    let drawn = blocks(m);
    let reach = drawn.reach_percent;
    let half = drawn.begins.chars().count() / 2;
    let _ = writeln!(
        out,
        "  {:17}-{reach:<half$}0{:>half$}",
        "early, late, %",
        format!("+{reach}"),
        half = half.max(4) - 1
    );
    let _ = writeln!(out, "  {:16}|{}|", "begins of marks", drawn.begins);
    let _ = writeln!(out, "  {:16}|{}|", "ends of marks", drawn.ends);
    let speed = match m.nominal_known {
        true => format!(" ({} %)", signed(100.0 * m.speed_error.value, 2)),
        false => String::new(),
    };
    let end = m.end.map_or(String::new(), |e| {
        format!(", end {} %", signed(100.0 * e.value, 1))
    });
    let _ = writeln!(
        out,
        "  {:.3} baud{speed}, bias {} % ±{:.1}{end}, gross {:.1} %",
        m.rate_baud.value,
        signed(100.0 * m.bias.value, 1),
        100.0 * m.bias.within,
        100.0 * m.gross.seen
    );
    let _ = writeln!(out, "  {}", verdicts(m));
    out
}

/// The verdict on one line: what is not kept first.
fn verdicts(measured: &Measurement) -> String {
    if let Some(why) = measured.refusal() {
        return format!("no verdict: {why}");
    }
    let findings = judge(measured);
    let bad: Vec<String> = findings
        .iter()
        .filter(|finding| finding.verdict != Verdict::Kept)
        .map(|finding| {
            let source = finding.limit.source;
            format!(
                "{}: {} ({source})",
                verdict(finding.verdict),
                compared(finding)
            )
        })
        .collect();
    match bad.len() {
        0 => format!("kept: all {} limits", findings.len()),
        _ => bad.join("\n  "),
    }
}
