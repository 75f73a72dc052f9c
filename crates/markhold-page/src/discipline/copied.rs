//! One character of copy, as it comes in.

use super::Source;
use markhold_code::Symbol;

/// One character of copy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Copied {
    /// What it means. A printed character may be any, also one outside the alphabet.
    pub symbol: Symbol,
    /// When it was sent, s; not before the one before it.
    pub at_s: f64,
    /// Its probability, 0 to 1.
    pub probability: f32,
    /// Whether it is doubtful.
    pub doubtful: bool,
}

impl Copied {
    /// A sure character.
    pub const fn sure(symbol: Symbol, at_s: f64) -> Copied {
        Copied {
            symbol,
            at_s,
            probability: 1.0,
            doubtful: false,
        }
    }

    /// The characters of a text, all sure and all at one time.
    ///
    /// A line feed is a new line with or without a carriage return before it, BEL (U+0007)
    /// rings the bell, ENQ (U+0005) is "who are you". A tab is a space.
    pub fn of_text(text: &str, at_s: f64) -> impl Iterator<Item = Copied> {
        let symbol = |c| match c {
            ' ' | '\t' => Symbol::Space,
            '\r' => Symbol::CarriageReturn,
            '\n' => Symbol::LineFeed,
            '\u{7}' => Symbol::Bell,
            '\u{5}' => Symbol::WhoAreYou,
            c => Symbol::Print(c),
        };
        text.chars().map(move |c| Copied::sure(symbol(c), at_s))
    }

    pub(super) const fn source(&self) -> Source {
        Source {
            at_s: self.at_s,
            probability: self.probability,
            doubtful: self.doubtful,
        }
    }
}
