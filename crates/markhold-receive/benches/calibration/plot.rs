//! What was said against what was right, as a picture.

use crate::points::{Of, Point, Tenth, tenths};
use std::fmt::Write;
use std::path::PathBuf;

/// Side of the plot and its margin, in units of the picture.
const SIDE: f64 = 400.0;
const MARGIN: f64 = 50.0;
/// Half the width of the band that is aimed at.
const BAND: f64 = 0.03;

/// Writes `docs/calibration.svg`.
pub fn write(points: &[Point]) -> Result<(), String> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs/calibration.svg");
    std::fs::write(&path, svg(points)).map_err(|e| format!("{}: {e}", path.display()))
}

fn x(p: f64) -> f64 {
    MARGIN + p * SIDE
}

fn y(p: f64) -> f64 {
    MARGIN + (1.0 - p) * SIDE
}

fn svg(points: &[Point]) -> String {
    let size = SIDE + 2.0 * MARGIN;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {size} {size}\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <title>Probability given to characters against the share that was right</title>\n\
         <rect width=\"{size}\" height=\"{size}\" fill=\"white\"/>\n"
    );
    axes(&mut svg);
    let said = |p: &Point| p.said;
    let list = [
        (
            "#b0b0b0",
            "as claimed",
            tenths(points.iter(), Point::claimed),
        ),
        (
            "#1b6ca8",
            "steady",
            tenths(points.iter().filter(|p| p.of == Of::Steady), said),
        ),
        (
            "#c8551b",
            "fading",
            tenths(points.iter().filter(|p| p.of == Of::Fading), said),
        ),
        (
            "#3a7d44",
            "evenings",
            tenths(points.iter().filter(|p| p.of == Of::Evening), said),
        ),
        ("black", "all, calibrated", tenths(points.iter(), said)),
    ];
    for (k, (colour, name, tenths)) in list.iter().enumerate() {
        curve(&mut svg, colour, tenths);
        let at = y(0.97) + 18.0 * k as f64;
        let _ = writeln!(
            svg,
            "<circle cx=\"{}\" cy=\"{}\" r=\"4\" fill=\"{colour}\"/><text x=\"{}\" y=\"{}\">{name}</text>",
            x(0.05),
            at - 4.0,
            x(0.08),
            at
        );
    }
    svg.push_str("</svg>\n");
    svg
}

/// Frame, band aimed at, and numbers.
fn axes(svg: &mut String) {
    let corner = |a: f64, b: f64| format!("{:.1},{:.1}", x(a), y(b));
    let _ = writeln!(
        svg,
        "<polygon points=\"{} {} {} {} {} {}\" fill=\"#e8f0e4\"/>",
        corner(0.0, 0.0),
        corner(0.0, BAND),
        corner(1.0 - BAND, 1.0),
        corner(1.0, 1.0),
        corner(1.0, 1.0 - BAND),
        corner(BAND, 0.0)
    );
    let _ = writeln!(
        svg,
        "<rect x=\"{MARGIN}\" y=\"{MARGIN}\" width=\"{SIDE}\" height=\"{SIDE}\" fill=\"none\" stroke=\"black\"/>"
    );
    for k in 0..=5 {
        let p = f64::from(k) / 5.0;
        let _ = writeln!(
            svg,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{p:.1}</text>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{p:.1}</text>",
            x(p),
            y(0.0) + 17.0,
            MARGIN - 6.0,
            y(p) + 4.0
        );
    }
    let _ = writeln!(
        svg,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">probability given</text>\
         <text transform=\"translate(14 {:.1}) rotate(-90)\" text-anchor=\"middle\">share right</text>",
        x(0.5),
        y(0.0) + 38.0,
        y(0.5)
    );
}

/// Points with what may be chance.
fn curve(svg: &mut String, colour: &str, tenths: &[Tenth; 10]) {
    let enough: Vec<&Tenth> = tenths.iter().filter(|t| t.count >= 30).collect();
    let line: Vec<String> = enough
        .iter()
        .map(|t| format!("{:.1},{:.1}", x(t.said), y(t.right)))
        .collect();
    let _ = writeln!(
        svg,
        "<polyline points=\"{}\" fill=\"none\" stroke=\"{colour}\"/>",
        line.join(" ")
    );
    for t in enough {
        let (low, high) = (t.right - t.chance() / 100.0, t.right + t.chance() / 100.0);
        let _ = writeln!(
            svg,
            "<circle cx=\"{0:.1}\" cy=\"{1:.1}\" r=\"3\" fill=\"{colour}\"/>\
             <line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{2:.1}\" y2=\"{3:.1}\" stroke=\"{colour}\"/>",
            x(t.said),
            y(t.right),
            y(low.max(0.0)),
            y(high.min(1.0))
        );
    }
}
