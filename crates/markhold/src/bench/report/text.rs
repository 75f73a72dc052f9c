//! The report as text.

use super::{About, compared, figures, places, verdict};
use markhold_bench::limits::judge;
use markhold_bench::measure::Measurement;
use std::fmt::Write;

/// The whole report; intervals are 95 %.
pub fn text(about: &About, measured: &Measurement) -> String {
    let mut out = format!("{}: {}\n", about.name, about.source);
    if let Some(tones) = about.tones() {
        let _ = writeln!(out, "{tones}");
    }
    for (name, value) in figures(measured) {
        let _ = writeln!(out, "{name:28} {value}");
    }
    let _ = writeln!(out, "\nplace  begins of marks, %       ends of marks, %");
    for (units, [begins, ends]) in places(measured) {
        let _ = writeln!(out, "{units:5}  {begins:24}  {ends}");
    }
    let _ = writeln!(out, "\nlimits");
    match measured.refusal() {
        Some(why) => {
            let _ = writeln!(out, "  no verdict: {why}");
        }
        None => {
            for finding in judge(measured) {
                let _ = writeln!(
                    out,
                    "  {:9} {}: {} ({})",
                    verdict(finding.verdict),
                    compared(&finding),
                    finding.limit.source,
                    finding.limit.status.words()
                );
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_bench::line::edges;
    use markhold_bench::measure::{Knowledge, measure};
    use markhold_bench::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    fn report(count: usize) -> String {
        let sending = Sending {
            distortion: Distortion {
                bias: 0.1,
                ..Distortion::default()
            },
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let line = edges(
            &sending
                .line(&Pattern::Combinations.at_least(count))
                .unwrap(),
        );
        let line = &line[..line.len().min(6 * count)];
        let about = About {
            name: "line.txt".to_string(),
            source: "transitions".to_string(),
            pair: None,
            mark_is_lower: true,
        };
        text(&about, &measure(line, &Knowledge::default()).unwrap())
    }

    #[test]
    fn figures_and_verdicts_stand_in_it() {
        let text = report(100);
        for part in [
            "bias distortion              +10.0 % ±0.0 (marking: marks lengthened)",
            "speed error                  +0.00 % ±0.00 against 50.00 baud",
            "kept      gross 10.0 %, at most 40 %: US Army",
            "not kept  gross 10.0 %, at most 5 %: ITU-T S.3",
            "from memory",
        ] {
            assert!(text.contains(part), "{part} in {text}");
        }
    }

    #[test]
    fn a_poor_measurement_gets_no_verdict() {
        let text = report(5);
        assert!(text.contains("no verdict: only"), "{text}");
        assert!(!text.contains("kept"), "{text}");
    }
}
