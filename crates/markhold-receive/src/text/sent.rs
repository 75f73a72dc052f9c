//! Sent: what a sender who sends the same again, or tries key after key, would send next.

use std::collections::VecDeque;

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

/// So many characters are searched for what was sent before.
const MEMORY: usize = 96;
/// The rows of keys, from left to right: the digits stand above the letters of the first (the
/// keyboard of ITU-T S.1 machines, common practice). Machines are tried along them.
const KEYS: [&str; 3] = ["QWERTYUIOP", "ASDFGHJKL", "ZXCVBNM"];

/// The latest codes, and what followed when the latest two were sent before.
#[derive(Clone, Debug, Default)]
pub struct Sent(VecDeque<Code>);

impl Sent {
    /// Takes in the latest code.
    pub fn note(&mut self, code: Code) {
        if self.0.len() == MEMORY {
            self.0.pop_front();
        }
        self.0.push_back(code);
    }

    /// What followed the latest two when they were sent before; else the next key, if they are
    /// two keys in a row.
    pub fn again(&self) -> Option<Code> {
        let n = self.0.len();
        if n < 2 {
            return None;
        }
        let latest = [self.0[n - 2], self.0[n - 1]];
        let matches = |at: &usize| self.0[*at - 1] == latest[1] && self.0[*at - 2] == latest[0];
        match (2..n).rev().find(matches) {
            Some(at) => Some(self.0[at]),
            None => next_key(latest),
        }
    }
}

/// The key after two that stand side by side.
fn next_key(latest: [Code; 2]) -> Option<Code> {
    let keys = latest.map(
        |code| match symbol(code, Shift::Letters, FiguresRow::Ita2) {
            Symbol::Print(c) => Some(c),
            _ => None,
        },
    );
    let [Some(a), Some(b)] = keys else {
        return None;
    };
    let in_row = |row: &&str| {
        let after = row.split_once(a)?.1.strip_prefix(b)?;
        after.chars().next()
    };
    let next = KEYS.iter().find_map(in_row)?;
    let is_it =
        |code: &Code| symbol(*code, Shift::Letters, FiguresRow::Ita2) == Symbol::Print(next);
    Code::ALL.into_iter().find(is_it)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is expected after letters.
    fn after(letters: &str) -> Option<char> {
        let code = |c: char| {
            let is_it =
                |code: &Code| symbol(*code, Shift::Letters, FiguresRow::Ita2) == Symbol::Print(c);
            Code::ALL.into_iter().find(is_it).expect("a letter")
        };
        let mut sent = Sent::default();
        letters.chars().for_each(|c| sent.note(code(c)));
        match symbol(sent.again()?, Shift::Letters, FiguresRow::Ita2) {
            Symbol::Print(c) => Some(c),
            _ => None,
        }
    }

    #[test]
    fn what_was_sent_before_is_expected_again_and_keys_in_their_order() {
        assert_eq!(after("RYRYR"), Some('Y'));
        assert_eq!(after("Q"), None);
        assert_eq!(after("QW"), Some('E'));
        assert_eq!(after("UIO"), Some('P'));
        assert_eq!(after("OP"), None);
        assert_eq!(after("WQ"), None);
        assert_eq!(after("QWAQW"), Some('A'));
    }
}
