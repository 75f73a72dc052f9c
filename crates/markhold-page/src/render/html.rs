//! The page as a web page of its own: selectable text, doubtful characters lighter.
//!
//! Overprinted characters lie over each other: the first strikes are the text, what was
//! struck over them is laid on top and left out of a selection.

use super::layout::{ENDS, Run, SIDE, runs};
use crate::page::{Ink, Page};
use std::fmt::Write;

/// The page as a complete HTML document with this title.
pub fn html(page: &Page, title: &str) -> String {
    let width = usize::from(page.columns) + 2 * SIDE;
    let mut html = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n\
         <title>{}</title>\n<style>\n{STYLE}pre {{ width: {width}ch; padding: {ENDS}lh {SIDE}ch; }}\n",
        escaped(title)
    );
    for ink in Ink::ALL {
        let _ = writeln!(
            html,
            ".{} {{ opacity: .{:02}; }}",
            class(ink),
            ink.percent()
        );
    }
    html.push_str("</style>\n<pre>\n");
    for line in &page.lines {
        line_html(&mut html, &runs(line));
    }
    html.push_str("</pre>\n</html>\n");
    html
}

const STYLE: &str = "\
body { background: #d9d4c7; margin: 1em; }
pre { background: #fbf9f1; color: #16161a; box-sizing: border-box; margin: 0 auto;
  font: 16px/1.25 \"Courier New\", Courier, monospace; }
pre div { position: relative; min-height: 1lh; }
.over { position: absolute; left: 0; top: 0; user-select: none; pointer-events: none; }
";

fn class(ink: Ink) -> &'static str {
    match ink {
        Ink::Faint => "faint",
        Ink::Light => "light",
        Ink::Grey => "grey",
        Ink::Sure => "sure",
    }
}

fn line_html(html: &mut String, runs: &[Run]) {
    html.push_str("<div>");
    let (mut end, mut over) = (0, false);
    for run in runs {
        // A layer always begins under a character of the one before it.
        if run.column < end {
            html.push_str(if over { "</span>" } else { "" });
            html.push_str("<span class=\"over\" aria-hidden=\"true\">");
            (end, over) = (0, true);
        }
        html.extend(std::iter::repeat_n(' ', run.column - end));
        run_html(html, run);
        end = run.column + run.text.chars().count();
    }
    // Between two blocks the end of a line would be a line of its own; within a tag it is none.
    html.push_str(if over { "</span></div\n>" } else { "</div\n>" });
}

fn run_html(html: &mut String, run: &Run) {
    let text = escaped(&run.text);
    match run.ink {
        Ink::Sure => html.push_str(&text),
        ink => {
            let _ = write!(
                html,
                "<span class=\"{}\" title=\"doubtful\">{text}</span>",
                class(ink)
            );
        }
    }
}

/// Text with the signs that mean something in HTML and SVG replaced.
pub(super) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            c if c.is_control() && c != '\n' => escaped.push('\u{fffd}'),
            c => escaped.push(c),
        }
    }
    escaped
}
