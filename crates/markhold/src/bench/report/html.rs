//! The report as one page that needs nothing beside it.

use super::{About, compared, figures, places, verdict};
use markhold_bench::caution;
use markhold_bench::drawing::histogram;
use markhold_bench::limits::judge;
use markhold_bench::measure::Measurement;
use std::fmt::Write;

const STYLE: &str = "body{font-family:sans-serif;max-width:48em;margin:2em auto;padding:0 1em;\
color:#222}table{border-collapse:collapse;margin:1em 0}th,td{text-align:left;padding:.2em 1em .2em 0;\
border-bottom:1px solid #ddd;vertical-align:top}svg{max-width:100%;height:auto}\
.caution{border-left:4px solid #e0a030;padding-left:1em}";

/// The page.
pub fn html(about: &About, measured: &Measurement) -> String {
    let name = escaped(&about.name);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n<title>{name}: the line measured</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<h1>{name}</h1>\n<p>{}{}</p>\n",
        escaped(&about.source),
        about
            .tones()
            .map(|t| format!("; {}", escaped(&t)))
            .unwrap_or_default()
    );
    out += "<table>\n";
    for (name, value) in figures(measured) {
        let _ = writeln!(out, "<tr><th>{name}</th><td>{}</td></tr>", escaped(&value));
    }
    out +=
        "</table>\n<p>Distortion in percent of an element; ± and from-to are 95 % intervals.</p>\n";
    out += &histogram(measured);
    out += "<table>\n<tr><th>place, units</th><th>begins of marks, %</th><th>ends of marks, %</th></tr>\n";
    for (units, [begins, ends]) in places(measured) {
        let _ = writeln!(
            out,
            "<tr><td>{units}</td><td>{begins}</td><td>{ends}</td></tr>"
        );
    }
    out += "</table>\n<h2>Limits</h2>\n";
    out += &limits(measured);
    let _ = writeln!(
        out,
        "<p class=\"caution\">Caution. {} {}</p>\n</body>\n</html>",
        caution::LOOP,
        caution::MOVING_PARTS
    );
    out
}

fn limits(measured: &Measurement) -> String {
    if let Some(why) = measured.refusal() {
        return format!("<p>No verdict: {}.</p>\n", escaped(&why.to_string()));
    }
    let mut out = "<table>\n".to_string();
    for finding in judge(measured) {
        let _ = writeln!(
            out,
            "<tr><th>{}</th><td>{}</td><td>{} ({})</td></tr>",
            verdict(finding.verdict),
            compared(&finding),
            escaped(finding.limit.source),
            finding.limit.status.words()
        );
    }
    out + "</table>\n"
}

fn escaped(words: &str) -> String {
    words
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_cannot_break_the_page() {
        assert_eq!(escaped("a<b>&\"c\""), "a&lt;b&gt;&amp;&quot;c&quot;");
    }
}
