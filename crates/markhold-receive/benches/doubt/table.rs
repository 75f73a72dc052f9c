//! The table of causes given against causes found, in Markdown.

use crate::sample::Sample;
use crate::troubles::Trouble;
use markhold_receive::copy::doubt::CAUSES;
use markhold_receive::event::Doubt;

/// Share of the doubtful characters of a trouble that must be given a right cause, %.
const TARGET: f64 = 80.0;

/// One line for each trouble.
pub fn table(samples: &[(Trouble, Vec<Sample>)]) -> String {
    let names: Vec<String> = CAUSES.iter().map(|c| short(*c).to_string()).collect();
    let head = format!(
        "| trouble | characters | doubtful | {} | right | |\n| --- | ---: | ---: |{} ---: | --- |",
        names.join(" | "),
        " ---: |".repeat(CAUSES.len())
    );
    let lines: Vec<String> = samples.iter().map(|(t, s)| line(*t, s)).collect();
    format!("{head}\n{}\n\n{}", lines.join("\n"), shifts(samples))
}

fn line(trouble: Trouble, samples: &[Sample]) -> String {
    let doubtful: Vec<(&Sample, Doubt)> = samples.iter().filter_map(about_code).collect();
    let right = doubtful
        .iter()
        .filter(|(s, d)| s.causes.contains(d))
        .count();
    let given = CAUSES.map(|c| match doubtful.iter().filter(|d| d.1 == c).count() {
        0 => String::new(),
        n => n.to_string(),
    });
    let percent = 100.0 * right as f64 / doubtful.len().max(1) as f64;
    format!(
        "| {} | {} | {} | {} | {percent:.0} % | {} |",
        trouble.name(),
        samples.len(),
        doubtful.len(),
        given.join(" | "),
        if percent >= TARGET {
            "met"
        } else {
            "**missed**"
        }
    )
}

/// A sample whose code is doubtful, with the cause given.
fn about_code(sample: &Sample) -> Option<(&Sample, Doubt)> {
    let doubt = sample.character.doubt.filter(|d| *d != Doubt::ShiftLost)?;
    Some((sample, doubt))
}

/// What was said of the shift.
fn shifts(samples: &[(Trouble, Vec<Sample>)]) -> String {
    let head = "| trouble | in the wrong shift | of them marked | marked for a lost shift | of them in the wrong shift | or after a lost shift character |\n\
                | --- | ---: | ---: | ---: | ---: | ---: |";
    let line = |trouble: &str, list: &[&Sample]| {
        let shifted: Vec<&&Sample> = list.iter().filter(|s| s.shifted).collect();
        let is_marked = |s: &Sample| s.character.doubt == Some(Doubt::ShiftLost);
        let share = |of: &[&&&Sample], is: &dyn Fn(&Sample) -> bool| match of.len() {
            0 => "-".to_string(),
            n => format!(
                "{:.0} %",
                100.0 * of.iter().filter(|s| is(s)).count() as f64 / n as f64
            ),
        };
        let wrong: Vec<&&&Sample> = shifted.iter().filter(|s| s.shift_wrong).collect();
        let marked: Vec<&&&Sample> = shifted.iter().filter(|s| is_marked(s)).collect();
        format!(
            "| {trouble} | {} | {} | {} | {} | {} |",
            wrong.len(),
            share(&wrong, &|s| s.character.doubt.is_some()),
            marked.len(),
            share(&marked, &|s| s.shift_wrong),
            share(&marked, &|s| s.shift_wrong || s.shift_lost),
        )
    };
    let covered: Vec<&Sample> = samples
        .iter()
        .filter(|s| s.0 == Trouble::ShiftCovered)
        .flat_map(|s| &s.1)
        .collect();
    let others: Vec<&Sample> = samples
        .iter()
        .filter(|s| s.0 != Trouble::ShiftCovered)
        .flat_map(|s| &s.1)
        .collect();
    format!(
        "{head}\n{}\n{}",
        line(Trouble::ShiftCovered.name(), &covered),
        line("all others together", &others)
    )
}

fn short(cause: Doubt) -> &'static str {
    match cause {
        Doubt::Fade => "fade",
        Doubt::FadeOfOneTone => "of one tone",
        Doubt::Crash => "crash",
        Doubt::Neighbour => "neighbour",
        Doubt::Gain => "gain",
        Doubt::Drift => "drift",
        Doubt::Timing => "timing",
        Doubt::ShiftLost => "shift",
    }
}
