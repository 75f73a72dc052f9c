//! The table of what was said and what was right, in Markdown.

use crate::points::{Of, Point, Tenth, tenths};

/// Most that a tenth may be off, in hundredths.
const TARGET: f64 = 3.0;
/// With fewer characters a tenth says nothing.
const LEAST_COUNT: usize = 30;

/// One line for each tenth: calibrated, in all cases and in steady and fading ones; and as
/// the evidence claims.
pub fn table(points: &[Point]) -> String {
    let said = |p: &Point| p.said;
    let all = tenths(points.iter(), said);
    let steady = tenths(points.iter().filter(|p| p.of == Of::Steady), said);
    let fading = tenths(points.iter().filter(|p| p.of == Of::Fading), said);
    let evenings = tenths(points.iter().filter(|p| p.of == Of::Evening), said);
    let claimed = tenths(points.iter(), Point::claimed);
    let head = "| said | characters | mean said | right | off, points |  | steady: right of said | fading: right of said | evenings: right of said | before calibration: right of claimed |\n\
                | --- | ---: | ---: | ---: | ---: | --- | ---: | ---: | ---: | ---: |";
    let lines: Vec<String> = (0..10)
        .map(|k| {
            line(
                k,
                &all[k],
                [&steady[k], &fading[k], &evenings[k], &claimed[k]],
            )
        })
        .collect();
    format!("{head}\n{}", lines.join("\n"))
}

fn line(k: usize, all: &Tenth, others: [&Tenth; 4]) -> String {
    let verdict = match all.count {
        ..LEAST_COUNT => "too few",
        _ if all.off().abs() <= TARGET => "met",
        _ => "**missed**",
    };
    let [steady, fading, evenings, claimed] = others.map(pair);
    format!(
        "| 0.{k} to {:.1} | {} | {:.3} | {:.3} | {:+.1} (chance {:.1}) | {verdict} | {steady} | {fading} | {evenings} | {claimed} |",
        (k + 1) as f64 / 10.0,
        all.count,
        all.said,
        all.right,
        all.off(),
        all.chance(),
    )
}

fn pair(tenth: &Tenth) -> String {
    match tenth.count {
        ..LEAST_COUNT => "-".into(),
        _ => format!("{:.2} of {:.2}", tenth.right, tenth.said),
    }
}
