//! Signs: which figures row a sender has, told by where its signs stand.
//!
//! The two rows differ at D, H, J, S, V and Z. An apostrophe stands between letters and a
//! bell does not; a quotation mark opens a word, a plus does not; a semicolon follows a word
//! at once, an equals sign after a space. Every such sign speaks for the row in which it makes
//! sense where it stands, as far as it was read surely.

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};

/// Log odds of the US row over ITA2 before anything was heard: three of ten senders, an
/// order of size; ITA2 is the international rule.
const BEFORE: f32 = -0.85;
/// A row is told at these log odds: 19 to 1.
const KNOWN: f32 = 2.94;
/// Most that is believed, as log odds: the next sender may have another.
const MOST: f32 = 8.0;

/// What stands beside a sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Near {
    /// A letter.
    Letter,
    /// A digit.
    Digit,
    /// Another sign, by its code.
    Sign(Code),
    /// Space, the end of a line, or nothing yet.
    Gap,
}

/// One printed character, as far as it says something of the row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Printed {
    /// Its code.
    pub code: Code,
    /// The shift in which it was read.
    pub shift: Shift,
    /// How surely both were.
    pub probability: f32,
}

impl Printed {
    /// What it is to its neighbours; `None` for shifts and blank, which stand beside nothing.
    fn near(&self) -> Option<Near> {
        match symbol(self.code, self.shift, FiguresRow::Ita2) {
            Symbol::Letters | Symbol::Figures | Symbol::Blank => None,
            Symbol::Space | Symbol::CarriageReturn | Symbol::LineFeed => Some(Near::Gap),
            Symbol::Print(c) if c.is_ascii_digit() => Some(Near::Digit),
            _ if self.shift == Shift::Letters => Some(Near::Letter),
            _ => Some(Near::Sign(self.code)),
        }
    }
}

/// What is known of a sender's row.
#[derive(Clone, Debug)]
pub struct Signs {
    forced: Option<FiguresRow>,
    /// Log odds of the US row.
    odds: f32,
    /// What stands before the next.
    before: Near,
}

impl Signs {
    /// Nothing is known, or the row is forced.
    pub fn new(forced: Option<FiguresRow>) -> Self {
        Self {
            forced,
            odds: BEFORE,
            before: Near::Gap,
        }
    }

    /// The row, with all of these in view, of which the first `given` are behind then.
    pub fn take(&mut self, printed: &[Printed], given: usize) -> FiguresRow {
        let (mut odds, mut before) = (self.odds, self.before);
        for (at, now) in printed.iter().enumerate() {
            let after = printed[at + 1..].iter().find_map(Printed::near);
            if let Some(near) = now.near() {
                if let (Near::Sign(code), Some(after)) = (near, after) {
                    let says = now.probability * says_us(before, code, after);
                    odds = (odds + says).clamp(-MOST, MOST);
                }
                before = near;
            }
            if at + 1 == given {
                (self.odds, self.before) = (odds, before);
            }
        }
        self.forced.unwrap_or(row_of(odds))
    }

    /// The row, if signs told.
    pub fn known(&self) -> Option<FiguresRow> {
        (self.odds.abs() > KNOWN).then_some(row_of(self.odds))
    }

    /// The row as known now.
    pub fn row(&self) -> FiguresRow {
        self.forced.unwrap_or(row_of(self.odds))
    }
}

fn row_of(odds: f32) -> FiguresRow {
    if odds > 0.0 {
        FiguresRow::Us
    } else {
        FiguresRow::Ita2
    }
}

/// How much likelier a sign is there in the US row than in ITA2, as a natural logarithm. The
/// factors are orders of size, from where these signs stand in print (common practice).
fn says_us(before: Near, code: Code, after: Near) -> f32 {
    use Near::{Digit, Gap, Letter, Sign};
    let Symbol::Print(letter) = symbol(code, Shift::Letters, FiguresRow::Ita2) else {
        return 0.0;
    };
    let again = before == Sign(code) || after == Sign(code);
    let apostrophe = match (before, after) {
        _ if again => 1.0 / 20.0,
        (Letter, Letter) => 30.0,
        (Letter, Gap) | (Digit, _) => 3.0,
        (Gap, Gap) => 1.0 / 10.0,
        _ => 1.0,
    };
    let us_over_ita2: f32 = match (letter, before, after) {
        ('J', ..) => apostrophe,
        ('S', ..) => 1.0 / apostrophe,
        // Dollar over "who are you".
        ('D', _, Digit) => 20.0,
        ('D', Gap, _) => 1.0 / 3.0,
        // A number's sign over one that ITA2 leaves to each country.
        ('H', ..) => 2.0,
        // Quotation mark over plus.
        ('Z', Gap, Letter) => 15.0,
        ('Z', Letter, Gap) => 10.0,
        ('Z', Sign(_), Gap) => 6.0,
        ('Z', Digit, Digit) => 1.0 / 10.0,
        ('Z', Gap, Gap) => 1.0 / 6.0,
        // Semicolon over equals sign.
        ('V', Letter, Gap) => 8.0,
        ('V', Digit, Gap) => 4.0,
        ('V', Gap, Gap) => 1.0 / 8.0,
        ('V', Digit, Digit) => 1.0 / 6.0,
        ('V', Letter, Letter) => 1.0 / 2.0,
        _ => 1.0,
    };
    us_over_ita2.ln()
}
