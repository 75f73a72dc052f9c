//! Individual distortion as a histogram: begins of marks and ends of marks side by side.

use super::canvas::Canvas;
use crate::measure::Measurement;

/// Width of a class, % of an element.
const CLASS: f64 = 2.0;
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 300.0;
const LEFT: f64 = 50.0;
const RIGHT: f64 = 20.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = 46.0;
/// Dark and light, so that they differ in print too.
const TO_MARK: &str = "#1f4e79";
const TO_SPACE: &str = "#e0a030";

/// The histogram of gross individual distortion, early on the left.
pub fn histogram(measured: &Measurement) -> String {
    let reach = reach_percent(measured);
    let (mark, space) = (
        counts(measured, true, reach),
        counts(measured, false, reach),
    );
    let most = mark.iter().chain(&space).copied().max().unwrap_or(0).max(1) as f64;
    let mut canvas = Canvas::new(WIDTH, HEIGHT);
    let floor = HEIGHT - BOTTOM;
    let x = |percent: f64| LEFT + (percent + reach) / (2.0 * reach) * (WIDTH - LEFT - RIGHT);
    axis(&mut canvas, reach, &x, floor);
    let half = (x(CLASS) - x(0.0)) / 2.0 - 0.5;
    for k in 0..mark.len() {
        let left = x(k as f64 * CLASS - reach);
        for (side, (count, fill)) in [(mark[k], TO_MARK), (space[k], TO_SPACE)]
            .into_iter()
            .enumerate()
        {
            let height = count as f64 / most * (floor - TOP);
            let corner = (left + side as f64 * half, floor - height);
            canvas.rect(corner, (half, height), fill);
        }
    }
    canvas.text((LEFT - 6.0, TOP + 4.0), "end", &format!("{most:.0}"));
    legend(&mut canvas);
    canvas.finish("Histogram of individual start-stop distortion")
}

/// How far the axis reaches to both sides, %: 10, 20 and so on.
pub(super) fn reach_percent(measured: &Measurement) -> f64 {
    let largest = 100.0 * measured.gross.seen;
    ((largest / 10.0).ceil() * 10.0).clamp(10.0, 100.0)
}

/// How many transitions fall into each class, from `-reach` on.
pub(super) fn counts(measured: &Measurement, to_mark: bool, reach: f64) -> Vec<usize> {
    let classes = (2.0 * reach / CLASS) as usize;
    let mut counts = vec![0; classes];
    for one in measured.individual.iter().filter(|i| i.to_mark == to_mark) {
        let class = ((100.0 * one.gross + reach) / CLASS).floor().max(0.0) as usize;
        counts[class.min(classes - 1)] += 1;
    }
    counts
}

fn axis(canvas: &mut Canvas, reach: f64, x: &impl Fn(f64) -> f64, floor: f64) {
    let step = if reach > 40.0 { 20.0 } else { 10.0 };
    let steps = (reach / step).floor() as i32;
    for k in -steps..=steps {
        let percent = f64::from(k) * step;
        canvas.line((x(percent), TOP), (x(percent), floor), k == 0);
        let words = format!("{percent:+.0} %").replace("+0 %", "0");
        canvas.text((x(percent), floor + 16.0), "middle", &words);
    }
    canvas.line((x(-reach), floor), (x(reach), floor), true);
    let words = "early (left) and late (right), % of an element";
    canvas.text(
        ((x(-reach) + x(reach)) / 2.0, floor + 36.0),
        "middle",
        words,
    );
}

fn legend(canvas: &mut Canvas) {
    for (x, fill, words) in [
        (LEFT, TO_MARK, "begins of marks"),
        (LEFT + 160.0, TO_SPACE, "ends of marks"),
    ] {
        canvas.rect((x, 14.0), (12.0, 12.0), fill);
        canvas.text((x + 18.0, 24.0), "start", words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::measure::{Knowledge, measure};
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    fn measured(bias: f64) -> Measurement {
        let sending = Sending {
            distortion: Distortion {
                bias,
                ..Distortion::default()
            },
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let codes = Pattern::Combinations.at_least(60);
        let line = edges(&sending.line(&codes).expect("in range"));
        measure(&line, &Knowledge::default()).expect("a line")
    }

    #[test]
    fn every_transition_is_counted_once() {
        for bias in [0.0, 0.3, -0.45] {
            let found = measured(bias);
            let reach = reach_percent(&found);
            let total: usize = [true, false]
                .iter()
                .flat_map(|m| counts(&found, *m, reach))
                .sum();
            assert_eq!(total, found.individual.len(), "{bias}");
        }
    }

    #[test]
    fn stands_alone() {
        let svg = histogram(&measured(0.2));
        assert!(svg.starts_with("<svg xmlns=") && svg.ends_with("</svg>\n"));
        assert!(svg.contains("<title>") && !svg.contains("NaN"));
        assert_eq!(svg.matches("http").count(), 1, "the namespace only");
    }
}
