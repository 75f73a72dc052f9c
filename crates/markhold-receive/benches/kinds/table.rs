//! The table: a line for each kind, and what all of them say together.

use crate::glyphs::Score;
use crate::kinds::Kind;
use crate::measure::Outcome;

/// All draws of one kind.
struct Line {
    markhold: Score,
    floor: Score,
    firsts_s: Vec<f64>,
    seconds: f64,
    took_s: f64,
    refused: u64,
    /// Draws of which markhold prints at least half wrong.
    lost: usize,
}

const HEAD: &str = "\
| kind | glyphs sent | markhold | floor | ratio | | lost draws | false of sure words | first character, s | times real time | drawn again |
| --- | ---: | ---: | ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: |";

/// The table as text.
pub fn table(kinds: &[Kind], outcomes: &[Vec<Outcome>]) -> String {
    let lines: Vec<Line> = outcomes.iter().map(|o| line(o)).collect();
    let rows: Vec<String> = kinds
        .iter()
        .zip(&lines)
        .map(|(k, l)| row(k.name, l))
        .collect();
    let mut total = Score::default();
    lines.iter().for_each(|l| total.add(&l.markhold));
    let mut ratios: Vec<f64> = lines.iter().map(ratio).collect();
    ratios.sort_by(f64::total_cmp);
    let met = lines.iter().filter(|l| is_met(l)).count();
    format!(
        "{HEAD}\n{}\n\n{met} of {} kinds are no worse than the floor; median ratio of errors {:.2}; of {} words shown as \
         sure {} are false ({:.2} %).\n\n{}",
        rows.join("\n"),
        lines.len(),
        ratios[ratios.len() / 2],
        total.sure_words,
        total.false_words,
        100.0 * total.false_words as f64 / total.sure_words.max(1) as f64,
        tenths(&total),
    )
}

fn line(outcomes: &[Outcome]) -> Line {
    let mut line = Line {
        markhold: Score::default(),
        floor: Score::default(),
        firsts_s: outcomes
            .iter()
            .map(|o| o.first_s.unwrap_or(f64::INFINITY))
            .collect(),
        seconds: outcomes.iter().map(|o| o.seconds).sum(),
        took_s: outcomes.iter().map(|o| o.took_s).sum(),
        refused: outcomes.iter().map(|o| o.refused).sum(),
        lost: outcomes.iter().filter(|o| o.markhold.rate() > 0.5).count(),
    };
    for outcome in outcomes {
        line.markhold.add(&outcome.markhold);
        line.floor.add(&outcome.floor);
    }
    line.firsts_s.sort_by(f64::total_cmp);
    line
}

/// Errors of markhold over those of the floor; where the floor has none, half a one is taken.
fn ratio(line: &Line) -> f64 {
    line.markhold.errors as f64 / (line.floor.errors as f64).max(0.5)
}

/// No worse than the floor beyond chance: two standard deviations of a count.
fn is_met(line: &Line) -> bool {
    let (own, floor) = (line.markhold.errors as f64, line.floor.errors as f64);
    own <= floor + 2.0 * (own + floor).sqrt()
}

fn row(name: &str, line: &Line) -> String {
    let first_s = line.firsts_s[line.firsts_s.len() / 2];
    let cells = [
        name.to_string(),
        line.markhold.sent.to_string(),
        format!("{:.2} %", 100.0 * line.markhold.rate()),
        format!("{:.2} %", 100.0 * line.floor.rate()),
        format!("{:.2}", ratio(line)),
        if is_met(line) { "met" } else { "**worse**" }.to_string(),
        line.lost.to_string(),
        format!(
            "{} of {}",
            line.markhold.false_words, line.markhold.sure_words
        ),
        if first_s.is_finite() {
            format!("{first_s:.1}")
        } else {
            "never".into()
        },
        format!("{:.0}", line.seconds / line.took_s),
        line.refused.to_string(),
    ];
    format!("| {} |", cells.join(" | "))
}

/// Whether probabilities come true.
fn tenths(total: &Score) -> String {
    let row = |(k, (count, said, right)): (usize, &(usize, f64, usize))| {
        let share = |sum: f64| sum / (*count).max(1) as f64;
        format!(
            "| {:.1} to {:.1} | {count} | {:.3} | {:.3} | {:+.1} |",
            k as f64 / 10.0,
            (k + 1) as f64 / 10.0,
            share(*said),
            share(*right as f64),
            100.0 * (share(*said) - share(*right as f64)),
        )
    };
    let rows: Vec<String> = total.tenths.iter().enumerate().map(row).collect();
    format!(
        "| said | glyphs | mean said | right | off, points |\n| --- | ---: | ---: | ---: | ---: |\n{}",
        rows.join("\n")
    )
}
