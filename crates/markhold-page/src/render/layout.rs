//! Where things stand on paper.
//!
//! Ten columns to the inch and six lines to the inch, as on nearly all page printers
//! (common practice).

use crate::page::{Ink, Line, Strike};

/// Columns left free at the left and at the right.
pub const SIDE: usize = 5;
/// Lines left free at the top and at the bottom.
pub const ENDS: usize = 3;

/// Consecutive characters of one layer in one ink.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    pub column: usize,
    pub ink: Ink,
    pub text: String,
}

/// A line as runs, layer after layer. Spaces between words belong to a run, so that copied
/// text has them.
pub fn runs(line: &Line) -> Vec<Run> {
    line.layers()
        .iter()
        .flat_map(|layer| layer_runs(layer))
        .collect()
}

fn layer_runs(layer: &[Option<Strike>]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (column, strike) in layer.iter().enumerate() {
        match (strike, runs.last_mut()) {
            (Some(strike), Some(run)) if run.ink == strike.ink => run.text.push(strike.character),
            (Some(strike), _) => runs.push(Run {
                column,
                ink: strike.ink,
                text: strike.character.into(),
            }),
            (None, Some(run)) => run.text.push(' '),
            (None, None) => {}
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::Struck;

    #[test]
    fn runs_split_where_the_ink_changes() {
        let struck = |column, character, ink| Struck {
            column,
            strike: Strike {
                character,
                at_s: 0.0,
                ink,
                in_return: false,
            },
        };
        let line = Line {
            struck: vec![
                struck(1, 'A', Ink::Sure),
                struck(3, 'B', Ink::Sure),
                struck(4, 'C', Ink::Faint),
                struck(1, 'X', Ink::Sure),
            ],
        };
        let run = |column, ink, text: &str| Run {
            column,
            ink,
            text: text.into(),
        };
        let expected = [
            run(1, Ink::Sure, "A B"),
            run(4, Ink::Faint, "C"),
            run(1, Ink::Sure, "X"),
        ];
        assert_eq!(runs(&line), expected);
    }
}
