//! The codes that end a line, by their names.

use markhold_code::Code;
use std::fmt;

/// The codes that end a line: at least one carriage return and one line feed, and nothing
/// that prints.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineEnding(Vec<Code>);

/// Names of the codes, as the trade writes them.
const NAMES: [(&str, Code); 4] = [
    ("CR", Code::CARRIAGE_RETURN),
    ("LF", Code::LINE_FEED),
    ("LTRS", Code::LETTERS),
    ("BLANK", Code::BLANK),
];

/// Longest line ending, codes.
const LONGEST: usize = 16;

impl LineEnding {
    /// The ending with these names, separated by spaces, as in `"CR CR LF LTRS"`; `None` if
    /// a name is unknown, a carriage return or line feed is missing, or there are more than
    /// 16.
    pub fn parse(names: &str) -> Option<LineEnding> {
        let code = |name: &str| {
            let same = |known: &&(&str, Code)| known.0.eq_ignore_ascii_case(name);
            NAMES.iter().find(same).map(|known| known.1)
        };
        let codes: Vec<Code> = names.split_whitespace().map(code).collect::<Option<_>>()?;
        let complete = [Code::CARRIAGE_RETURN, Code::LINE_FEED]
            .iter()
            .all(|needed| codes.contains(needed));
        (complete && codes.len() <= LONGEST).then_some(LineEnding(codes))
    }

    /// The codes in the order they are sent.
    pub fn codes(&self) -> &[Code] {
        &self.0
    }

    /// Codes from the first carriage return to the end, it included.
    pub fn from_return(&self) -> usize {
        let is_return = |code: &Code| *code == Code::CARRIAGE_RETURN;
        self.0.len() - self.0.iter().position(is_return).unwrap_or(0)
    }
}

impl fmt::Display for LineEnding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = |code: &Code| NAMES.iter().find(|known| known.1 == *code).map(|k| k.0);
        let names: Vec<&str> = self.0.iter().filter_map(name).collect();
        f.write_str(&names.join(" "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_codes_and_names_again() {
        let ending = LineEnding::parse(" cr CR lf LTRS").unwrap();
        let values: Vec<u8> = ending.codes().iter().map(|c| c.value()).collect();
        assert_eq!(values, [8, 8, 2, 31]);
        assert_eq!(ending.to_string(), "CR CR LF LTRS");
        assert_eq!(LineEnding::parse("LF CR").unwrap().from_return(), 1);
        assert_eq!(ending.from_return(), 4);
    }

    #[test]
    fn what_is_no_line_ending() {
        for names in ["", "CR", "LF LTRS", "CR LF X", "CR LF FIGS E"] {
            assert_eq!(LineEnding::parse(names), None, "{names}");
        }
        assert_eq!(LineEnding::parse(&"CR LF ".repeat(9)), None);
    }
}
