//! What is sent to adjust a machine.

use markhold_code::{Code, EncodeOptions, FiguresRow, LineEnd, encode_lossy};

/// A test pattern: characters that show one thing about a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// R and Y in turn: 01010 and 10101, complements in all five elements, so that every
    /// selector lever moves with every character (worked example W12, common practice).
    Alternating,
    /// All 32 combinations in order of value, letters shift before and after.
    Combinations,
    /// A ruler to set the margins by: a line of that many digits, counted 1 to 9 and 0,
    /// then the line end.
    Margins {
        /// Characters on the line; 69 is the international line, 72, 74 and 76 are met
        /// with (common practice).
        width: u16,
    },
    /// One character over and over: all-space and letters shift are the extremes of a
    /// selector.
    Repeated(Code),
}

impl Pattern {
    /// One round of the pattern.
    pub fn codes(self) -> Vec<Code> {
        match self {
            Pattern::Alternating => [10, 21].into_iter().filter_map(Code::new).collect(),
            Pattern::Combinations => std::iter::once(Code::LETTERS)
                .chain(Code::ALL)
                .chain([Code::LETTERS])
                .collect(),
            Pattern::Margins { width } => ruler(width),
            Pattern::Repeated(code) => vec![code],
        }
    }

    /// At least `count` characters: whole rounds, so that a line ends where it should.
    pub fn at_least(self, count: usize) -> Vec<Code> {
        let round = self.codes();
        let rounds = count.div_ceil(round.len()).max(1);
        round.repeat(rounds)
    }
}

fn ruler(width: u16) -> Vec<Code> {
    let digits: String = (1..=width)
        .filter_map(|k| char::from_digit(u32::from(k % 10), 10))
        .collect();
    let how = EncodeOptions {
        line_end: LineEnd::CrCrLfLetters,
        begin: None,
        ..EncodeOptions::default()
    };
    // Digits and line ends are in every row: nothing is ever replaced.
    encode_lossy(&format!("{digits}\n"), FiguresRow::Ita2, how, ' ')
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::decode;

    /// Worked example W12: R and Y are complements in all five elements.
    #[test]
    fn alternating_moves_every_lever() {
        let codes = Pattern::Alternating.codes();
        assert_eq!(codes[0].distance(codes[1]), 5);
        assert_eq!(decode(&codes, FiguresRow::Us, false), "RY");
    }

    #[test]
    fn combinations_are_all_there() {
        let codes = Pattern::Combinations.codes();
        for code in Code::ALL {
            assert!(codes.contains(&code), "{code:?}");
        }
        assert_eq!((codes.len(), codes[0]), (34, Code::LETTERS));
    }

    #[test]
    fn the_ruler_prints_its_width() {
        for width in [1, 10, 69, 72, 76] {
            let text = decode(&Pattern::Margins { width }.codes(), FiguresRow::Us, false);
            let line = text.trim_end();
            assert_eq!(line.len(), usize::from(width));
            let last = char::from_digit(u32::from(width % 10), 10);
            assert_eq!(line.chars().last(), last);
        }
    }

    #[test]
    fn rounds_are_whole() {
        assert_eq!(Pattern::Alternating.at_least(7).len(), 8);
        assert_eq!(Pattern::Repeated(Code::BLANK).at_least(5).len(), 5);
        assert_eq!(Pattern::Combinations.at_least(0).len(), 34);
    }
}
