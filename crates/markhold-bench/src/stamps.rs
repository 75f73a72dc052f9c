//! Transitions of a line as text, one a line: what a serial adapter's time stamps become.
//!
//! ```text
//! # seconds and the condition from then on; this line is a remark
//! 0.500000 space
//! 0.522000 mark
//! {"t":0.544,"mark":false}
//! ```
//!
//! Both forms may be mixed. `1` and `0` stand for mark and space too. Times count from
//! anywhere, in seconds, and must ascend.

use crate::line::Edge;
use serde::{Deserialize, Serialize};
use std::io::{self, BufRead, Write};

/// Why a line is no transition.
#[derive(Debug, thiserror::Error)]
pub enum StampError {
    /// It is neither form.
    #[error(
        "\"{0}\" found, a time in seconds and mark or space expected, such as 0.522 mark or \
         {{\"t\":0.522,\"mark\":true}}"
    )]
    Form(String),
    /// JSON of something else.
    #[error("{0}; expected {{\"t\":0.522,\"mark\":true}}")]
    Json(#[from] serde_json::Error),
    /// It cannot be read.
    #[error(transparent)]
    Io(#[from] io::Error),
    /// The line in which it went wrong, counted from 1.
    #[error("line {0}: {1}")]
    Line(usize, Box<StampError>),
}

/// Longest part of a line that an error shows, characters.
const SHOWN: usize = 60;

/// One transition in JSON.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    /// When, s.
    t: f64,
    /// The condition from then on.
    mark: bool,
}

/// Reads transitions.
///
/// # Errors
///
/// A line that is neither form, with its number.
pub fn read(input: impl BufRead) -> Result<Vec<Edge>, StampError> {
    let mut edges = Vec::new();
    for (k, line) in input.lines().enumerate() {
        let at = |error: StampError| StampError::Line(k + 1, Box::new(error));
        let line = line.map_err(|error| at(error.into()))?;
        edges.extend(edge_of(&line).map_err(at)?);
    }
    Ok(edges)
}

/// The transition of one line; `None` for a remark.
///
/// # Errors
///
/// It is neither form.
pub fn edge_of(line: &str) -> Result<Option<Edge>, StampError> {
    let line = line.split('#').next().unwrap_or_default().trim();
    match line.is_empty() {
        true => Ok(None),
        false => edge(line).map(Some),
    }
}

fn edge(line: &str) -> Result<Edge, StampError> {
    if line.starts_with('{') {
        let Line { t: at_s, mark } = serde_json::from_str(line)?;
        return Ok(Edge { at_s, mark });
    }
    let mut words = line.split_whitespace();
    let number = |word: &str| word.parse().ok().filter(|t: &f64| t.is_finite());
    let at_s = words.next().and_then(number);
    let mark = match words.next() {
        Some("mark" | "1") => Some(true),
        Some("space" | "0") => Some(false),
        _ => None,
    };
    match (at_s, mark, words.next()) {
        (Some(at_s), Some(mark), None) => Ok(Edge { at_s, mark }),
        _ => Err(StampError::Form(line.chars().take(SHOWN).collect())),
    }
}

/// Writes transitions as JSON lines.
///
/// # Errors
///
/// Those of `out`.
pub fn write(edges: &[Edge], mut out: impl Write) -> io::Result<()> {
    for edge in edges {
        let line = Line {
            t: edge.at_s,
            mark: edge.mark,
        };
        serde_json::to_writer(&mut out, &line)?;
        out.write_all(b"\n")?;
    }
    out.flush()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_forms_are_read() {
        let text = "# a remark\n\n0.5 space\n0.522 1 # edge\n{\"t\":0.544,\"mark\":false}\n";
        let found = read(text.as_bytes()).unwrap();
        let expected = [(0.5, false), (0.522, true), (0.544, false)];
        assert_eq!(found, expected.map(|(at_s, mark)| Edge { at_s, mark }));
    }

    #[test]
    fn what_is_written_is_read() {
        let edges: Vec<Edge> = (0..50)
            .map(|k| Edge {
                at_s: f64::from(k) * 0.022_000_1,
                mark: k % 2 == 1,
            })
            .collect();
        let mut bytes = Vec::new();
        write(&edges, &mut bytes).unwrap();
        let found = read(&bytes[..]).unwrap();
        assert_eq!(found.len(), edges.len());
        for (f, e) in found.iter().zip(&edges) {
            // The last digit of a number may be rounded otherwise when read.
            assert!(f.mark == e.mark && (f.at_s - e.at_s).abs() < 1e-14);
        }
    }

    #[test]
    fn faults_name_their_line() {
        for bad in [
            "0.5",
            "x mark",
            "inf mark",
            "0.5 on",
            "0.5 mark 7",
            "{\"t\":1}",
        ] {
            let text = format!("0.1 space\n{bad}\n");
            let error = read(text.as_bytes()).unwrap_err().to_string();
            assert!(error.contains("line 2"), "{error}");
        }
    }
}
