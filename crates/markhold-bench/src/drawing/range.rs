//! The range of a selector: what it bears, and where in the element it looks.

use super::canvas::Canvas;
use crate::range::{Kind, Range};

const WIDTH: f64 = 640.0;
const ROW: f64 = 34.0;
const LEFT: f64 = 180.0;
const RIGHT: f64 = 40.0;
const TOP: f64 = 40.0;
const BAR: &str = "#1f4e79";
const LOOK: &str = "#e0a030";
/// Percent that the axis of bars ends at.
const END: f64 = 100.0;

/// Bars of the four kinds, and below them one element with the look in it.
pub fn range(found: &Range) -> String {
    let x = |percent: f64| LEFT + percent / END * (WIDTH - LEFT - RIGHT);
    let floor = TOP + ROW * Kind::ALL.len() as f64;
    let height = floor + 130.0;
    let mut canvas = Canvas::new(WIDTH, height);
    canvas.text(
        (LEFT, 22.0),
        "start",
        "borne, % of an element (50 is the ideal)",
    );
    for percent in [0.0, 25.0, 50.0, 75.0, 100.0] {
        canvas.line((x(percent), TOP), (x(percent), floor), percent == 50.0);
        canvas.text(
            (x(percent), floor + 16.0),
            "middle",
            &format!("{percent:.0}"),
        );
    }
    for (row, kind) in Kind::ALL.into_iter().enumerate() {
        let y = TOP + ROW * row as f64;
        let borne = f64::from(found.of(kind));
        canvas.text((LEFT - 8.0, y + 21.0), "end", kind.name());
        canvas.rect((LEFT, y + 8.0), (x(borne) - LEFT, ROW - 16.0), BAR);
        canvas.text((x(borne) + 4.0, y + 21.0), "start", &format!("{borne:.0}"));
    }
    look(&mut canvas, found, &x, floor + 50.0);
    canvas.finish("Range of the selector")
}

/// One element from its beginning to its end, and the part of it that is looked at.
fn look(canvas: &mut Canvas, found: &Range, x: &impl Fn(f64) -> f64, y: f64) {
    let (begins, ends) = (found.look_begins(), found.look_ends());
    canvas.text((LEFT - 8.0, y + 16.0), "end", "one element");
    canvas.rect((x(0.0), y), (x(100.0) - x(0.0), 24.0), "#eee");
    // An ideal look has no length; a sliver shows where it is.
    let (left, right) = (begins.min(ends), begins.max(ends));
    let width = (x(right) - x(left)).max(2.0);
    canvas.rect((x(left), y), (width, 24.0), LOOK);
    canvas.line((x(50.0), y - 4.0), (x(50.0), y + 28.0), true);
    let words = format!(
        "looked at from {left:.0} to {right:.0} %, {:+.1} % off the centre",
        found.off_centre()
    );
    canvas.text((x(50.0), y + 46.0), "middle", &words);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shows_what_was_found() {
        let svg = range(&Range {
            borne: [42, 38, 39, 41],
        });
        for kind in Kind::ALL {
            assert!(svg.contains(kind.name()));
        }
        assert!(svg.contains("from 38 to 59 %, -1.5 % off"), "{svg}");
        assert!(svg.starts_with("<svg xmlns=") && svg.ends_with("</svg>\n"));
    }

    #[test]
    fn any_range_can_be_drawn() {
        for borne in [[0; 4], [90; 4], [0, 90, 0, 90]] {
            let svg = range(&Range { borne });
            assert!(!svg.contains("NaN") && !svg.contains("width=\"-"), "{svg}");
        }
    }
}
