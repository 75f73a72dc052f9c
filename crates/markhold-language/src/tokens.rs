//! Tokens: text as the language model sees it.
//!
//! Five units know one case, and figures and signs stand in the other shift, where the
//! model has nothing to say. So text is 29 tokens: a break between words (space or new line,
//! any number of them), the letters, any sign, any digit.

/// A token, below [`TOKENS`].
pub type Token = u8;

/// Number of tokens.
pub const TOKENS: usize = 29;
/// The break between words.
pub const BREAK: Token = 0;
/// A to Z are 1 to 26.
pub const A: Token = 1;
/// Any sign of the figures shift that is no digit.
pub const SIGN: Token = 27;
/// Any digit.
pub const DIGIT: Token = 28;

/// Bits that hold a token.
const BITS: u32 = 5;
/// Most tokens in a context.
pub const LONGEST: usize = 8;

/// Signs that a writer of prose sends. Others (quotation marks, brackets of computers) are
/// left out by those who write for a printer, and are left out here.
const SIGNS: &str = ".,;:?!'()-/&+=";

/// The token of a character; `None` if it is left out.
pub fn token(c: char) -> Option<Token> {
    match c {
        'A'..='Z' => Some(c as u8 - b'A' + A),
        'a'..='z' => Some(c as u8 - b'a' + A),
        '0'..='9' => Some(DIGIT),
        '\u{2019}' => Some(SIGN),
        c if c.is_whitespace() => Some(BREAK),
        c if SIGNS.contains(c) => Some(SIGN),
        _ => None,
    }
}

/// The tokens of a text, breaks never twice in a row.
pub fn tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::with_capacity(text.len());
    for token in text.chars().filter_map(token) {
        if token != BREAK || out.last() != Some(&BREAK) {
            out.push(token);
        }
    }
    out
}

/// The latest tokens, at most [`LONGEST`], packed: their number in the highest bits, the
/// latest token in the lowest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Context(u64);

impl Context {
    /// Nothing known of what came before.
    pub const EMPTY: Context = Context(0);
    /// The begin of a word of which nothing else is known.
    pub const WORD: Context = Context::EMPTY.then(BREAK);

    const SHIFT: u32 = BITS * LONGEST as u32;

    /// A context of these tokens, the latest last; only the latest [`LONGEST`] count.
    pub fn of(tokens: &[Token]) -> Self {
        tokens.iter().fold(Self::EMPTY, |c, &t| c.then(t))
    }

    /// Number of tokens.
    pub const fn len(self) -> usize {
        (self.0 >> Self::SHIFT) as usize
    }

    /// Whether nothing is known.
    pub const fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The context after one more token.
    pub const fn then(self, token: Token) -> Self {
        let len = if self.len() < LONGEST {
            self.len() + 1
        } else {
            LONGEST
        };
        let packed = (self.0 << BITS | token as u64) & ((1 << Self::SHIFT) - 1);
        Context((len as u64) << Self::SHIFT | packed)
    }

    /// The latest `len` tokens of it, or all if it has fewer.
    pub const fn latest(self, len: usize) -> Self {
        if len >= self.len() {
            return self;
        }
        let packed = self.0 & ((1 << (BITS * len as u32)) - 1);
        Context((len as u64) << Self::SHIFT | packed)
    }

    /// Token `k`, counted from the oldest.
    pub const fn token(self, k: usize) -> Token {
        (self.0 >> (BITS * (self.len() - 1 - k) as u32) & 31) as Token
    }

    /// Its tokens, the oldest first.
    pub fn iter(self) -> impl Iterator<Item = Token> {
        (0..self.len()).map(move |k| self.token(k))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_becomes_tokens() {
        let expected = [1, 26, BREAK, 2, SIGN, BREAK, DIGIT, DIGIT, BREAK, 3];
        assert_eq!(tokens("aZ \r\n\t\"B.\u{1F600} 73\n c"), expected);
    }

    #[test]
    fn contexts_keep_the_latest_tokens() {
        let all: Vec<Token> = (0..20).map(|k| k * 3 % 29).collect();
        for n in 0..=all.len() {
            let context = Context::of(&all[..n]);
            let kept: Vec<Token> = context.iter().collect();
            assert_eq!(kept, all[n.saturating_sub(LONGEST)..n]);
            for len in 0..=LONGEST {
                let latest = context.latest(len);
                let from = kept.len().saturating_sub(len);
                assert_eq!(latest, Context::of(&kept[from..]), "{len} of {n}");
            }
        }
        assert_eq!(Context::WORD.iter().collect::<Vec<_>>(), [BREAK]);
        assert!(Context::EMPTY.is_empty());
    }
}
