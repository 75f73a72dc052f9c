//! A keyed line as edges, the language of all measuring.

use markhold_code::Stretch;
use std::cmp::Ordering;

/// A transition of the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// When, s from wherever the line's time begins.
    pub at_s: f64,
    /// The condition from then on: `true` = mark.
    pub mark: bool,
}

/// The transitions between stretches; time begins with the first of them.
pub fn edges(line: &[Stretch]) -> Vec<Edge> {
    let mut at_s = 0.0;
    let mut edges = Vec::new();
    for pair in line.windows(2) {
        at_s += pair[0].length_s;
        if pair[0].mark != pair[1].mark {
            edges.push(Edge {
                at_s,
                mark: pair[1].mark,
            });
        }
    }
    edges
}

/// The condition of a line at an instant; before its first edge it is what that edge ends,
/// and mark where there are no edges at all.
pub fn is_mark(line: &[Edge], at_s: f64) -> bool {
    match line.partition_point(|e| e.at_s <= at_s) {
        0 => line.first().is_none_or(|first| !first.mark),
        k => line[k - 1].mark,
    }
}

/// The same line with mark and space exchanged.
pub fn turned(line: &[Edge]) -> Vec<Edge> {
    let turn = |edge: &Edge| Edge {
        mark: !edge.mark,
        ..*edge
    };
    line.iter().map(turn).collect()
}

/// What is wrong with a list of edges.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum LineError {
    /// Times do not ascend.
    #[error("transition {place} is at {at_s} s, not after {before_s} s; times must ascend")]
    Order {
        /// Which one, from 1.
        place: usize,
        /// Its time, s.
        at_s: f64,
        /// Time of the one before, s.
        before_s: f64,
    },
    /// Two neighbours lead to the same condition.
    #[error(
        "transition {place} leads to {} as the one before does; they must alternate \
         (a lost transition? send that part again)", if *.mark { "mark" } else { "space" }
    )]
    Alternation {
        /// Which one, from 1.
        place: usize,
        /// The condition, `true` = mark.
        mark: bool,
    },
}

/// Checks that edges ascend in time and alternate.
///
/// # Errors
///
/// The first edge that does not.
pub fn check(line: &[Edge]) -> Result<(), LineError> {
    for (k, pair) in line.windows(2).enumerate() {
        let place = k + 2;
        // NaN ascends from nothing.
        if pair[0].at_s.partial_cmp(&pair[1].at_s) != Some(Ordering::Less) {
            return Err(LineError::Order {
                place,
                at_s: pair[1].at_s,
                before_s: pair[0].at_s,
            });
        }
        if pair[0].mark == pair[1].mark {
            return Err(LineError::Alternation {
                place,
                mark: pair[1].mark,
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edge(at_s: f64, mark: bool) -> Edge {
        Edge { at_s, mark }
    }

    #[test]
    fn stretches_of_one_condition_have_no_edge_between() {
        let stretch = |mark, length_s| Stretch { mark, length_s };
        let line = [
            stretch(true, 0.5),
            stretch(false, 0.02),
            stretch(false, 0.02),
            stretch(true, 0.03),
        ];
        assert_eq!(edges(&line), [edge(0.5, false), edge(0.54, true)]);
        assert!(edges(&line[..1]).is_empty());
    }

    #[test]
    fn conditions_between_edges() {
        let line = [edge(1.0, false), edge(2.0, true)];
        let found = [0.5, 1.0, 1.5, 2.0, 9.0].map(|t| is_mark(&line, t));
        assert_eq!(found, [true, false, false, true, true]);
        assert!(is_mark(&[], 1.0));
        assert!(!is_mark(&turned(&line), 0.5));
    }

    #[test]
    fn faults_are_named() {
        assert_eq!(check(&[edge(1.0, false), edge(2.0, true)]), Ok(()));
        let order = check(&[edge(1.0, false), edge(f64::NAN, true)]).unwrap_err();
        assert!(order.to_string().contains("transition 2"), "{order}");
        let twice = check(&[edge(1.0, false), edge(2.0, false)]).unwrap_err();
        assert!(twice.to_string().contains("space"), "{twice}");
    }
}
