//! The few shapes the drawings are made of.

use std::fmt::Write;

/// Text on screen and paper.
const INK: &str = "#222";
/// Lines behind the figures.
const FAINT: &str = "#bbb";

/// An SVG under construction; units are pixels.
pub(super) struct Canvas {
    body: String,
    width: f64,
    height: f64,
}

impl Canvas {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Self {
            body: String::new(),
            width,
            height,
        }
    }

    pub(super) fn rect(&mut self, (x, y): (f64, f64), (width, height): (f64, f64), fill: &str) {
        let _ = writeln!(
            self.body,
            r#"<rect x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}" fill="{fill}"/>"#
        );
    }

    pub(super) fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), strong: bool) {
        let stroke = if strong { INK } else { FAINT };
        let _ = writeln!(
            self.body,
            r#"<line x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}" stroke="{stroke}"/>"#
        );
    }

    /// Text; `anchor` is start, middle or end. The words must be free of markup.
    pub(super) fn text(&mut self, (x, y): (f64, f64), anchor: &str, words: &str) {
        let _ = writeln!(
            self.body,
            r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}" fill="{INK}">{words}</text>"#
        );
    }

    /// The drawing, with a title for those who cannot see it.
    pub(super) fn finish(self, title: &str) -> String {
        let Self {
            body,
            width,
            height,
        } = self;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" \
             width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\" font-family=\"sans-serif\" \
             font-size=\"12\">\n<title>{title}</title>\n\
             <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n{body}</svg>\n"
        )
    }
}
