//! The page as a drawing, in strokes of its own: it looks the same everywhere.

use super::html::escaped;
use super::layout::{ENDS, SIDE};
use super::strokes::{BASELINE, CELL_HEIGHT, CELL_WIDTH, THICKNESS, glyph};
use super::text::text;
use crate::page::{Page, Struck};
use std::collections::BTreeSet;
use std::fmt::Write;

/// The page as an SVG document with this title. A unit is 1/100 inch; the plain text stands
/// in the description, for readers and searches.
pub fn svg(page: &Page, title: &str) -> String {
    let width = (usize::from(page.columns) + 2 * SIDE) as f64 * CELL_WIDTH;
    let height = (page.lines.len() + 2 * ENDS) as f64 * CELL_HEIGHT;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{:.2}in\" height=\"{:.2}in\" \
         viewBox=\"0 0 {width} {height:.2}\" role=\"img\">\n<title>{}</title>\n<desc>{}</desc>\n",
        width / 100.0,
        height / 100.0,
        escaped(title),
        escaped(&text(page).replace('\r', "\n"))
    );
    svg.push_str("<rect width=\"100%\" height=\"100%\" fill=\"#fbf9f1\"/>\n<defs>\n");
    glyphs(&mut svg, page);
    let _ = writeln!(
        svg,
        "</defs>\n<g fill=\"none\" stroke=\"#16161a\" stroke-width=\"{THICKNESS}\" \
         stroke-linecap=\"round\" stroke-linejoin=\"round\">"
    );
    for (row, line) in page.lines.iter().enumerate() {
        let y = (row + ENDS) as f64 * CELL_HEIGHT + BASELINE;
        line.struck
            .iter()
            .for_each(|struck| strike(&mut svg, struck, y));
    }
    svg.push_str("</g>\n</svg>\n");
    svg
}

/// A definition of each character on the page, in order.
fn glyphs(svg: &mut String, page: &Page) {
    let all = page.lines.iter().flat_map(|line| &line.struck);
    let used: BTreeSet<char> = all.map(|struck| struck.strike.character).collect();
    for c in used {
        let _ = writeln!(svg, "<path id=\"c{}\" d=\"{}\"/>", u32::from(c), glyph(c));
    }
}

fn strike(svg: &mut String, struck: &Struck, y: f64) {
    let x = (usize::from(struck.column) + SIDE) as f64 * CELL_WIDTH;
    let id = u32::from(struck.strike.character);
    let ink = struck.strike.ink.percent();
    let _ = writeln!(
        svg,
        "<use href=\"#c{id}\" x=\"{x}\" y=\"{y:.2}\" opacity=\".{ink:02}\"/>"
    );
}
