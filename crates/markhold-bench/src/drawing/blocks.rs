//! The histogram in characters, for a terminal.

use super::histogram::{counts, reach_percent};
use crate::measure::Measurement;

/// Eighths of a cell's height.
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The histogram of gross individual distortion.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Blocks {
    /// How far both sides reach, % of an element; a class is 2 % wide.
    pub reach_percent: u32,
    /// Begins of marks, early on the left.
    pub begins: String,
    /// Ends of marks.
    pub ends: String,
}

/// The histogram in blocks, as high as the fullest class; a class that holds anything is
/// seen.
pub fn blocks(measured: &Measurement) -> Blocks {
    let reach = reach_percent(measured);
    let (begins, ends) = (
        counts(measured, true, reach),
        counts(measured, false, reach),
    );
    let most = begins
        .iter()
        .chain(&ends)
        .copied()
        .max()
        .unwrap_or(0)
        .max(1);
    let block = |count: &usize| BLOCKS[(count * 8).div_ceil(most)];
    Blocks {
        reach_percent: reach as u32,
        begins: begins.iter().map(block).collect(),
        ends: ends.iter().map(block).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::measure::{Knowledge, measure};
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    /// Marking bias lengthens marks: they begin early by its size, and end in time.
    #[test]
    fn bias_stands_to_the_left_of_the_middle() {
        let sending = Sending {
            distortion: Distortion {
                bias: 0.07,
                ..Distortion::default()
            },
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let line = sending.line(&Pattern::Combinations.at_least(50));
        let line = edges(&line.expect("a pattern"));
        let found = blocks(&measure(&line, &Knowledge::default()).expect("a line"));
        assert_eq!(found.reach_percent, 10);
        // Classes from -10, -8, ...: -7 % is in the second, 0 at the begin of the sixth.
        assert_eq!(found.begins.chars().count(), 10);
        let filled = |text: &str| text.chars().position(|c| c != ' ');
        assert_eq!(filled(&found.begins), Some(1));
        assert!(
            matches!(filled(&found.ends), Some(4 | 5)),
            "{:?}",
            found.ends
        );
    }
}
