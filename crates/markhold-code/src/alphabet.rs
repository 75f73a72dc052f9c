//! What a code means: the letters row and the two figures rows.
//!
//! The letters row and [`FiguresRow::Ita2`] are International Telegraph Alphabet No. 2
//! (ITU-T Recommendation S.1). [`FiguresRow::Us`] is the row common in the United States
//! trade; note that bell and apostrophe change places between the two.

use crate::Code;
use std::fmt;
use std::str::FromStr;

/// The shift a printer is in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Shift {
    /// Codes mean letters.
    #[default]
    Letters,
    /// Codes mean figures and signs.
    Figures,
}

impl fmt::Display for Shift {
    /// "letters" or "figures".
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Shift::Letters => "letters",
            Shift::Figures => "figures",
        })
    }
}

impl FromStr for Shift {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        match word {
            "letters" => Ok(Shift::Letters),
            "figures" => Ok(Shift::Figures),
            other => Err(format!(
                "shift \"{other}\"; give \"letters\" or \"figures\""
            )),
        }
    }
}

/// Which signs stand in the figures row.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum FiguresRow {
    /// ITU-T S.1. Figures F, G and H are left to national use there and are not to be
    /// relied on between countries; they are read here as `!`, `&` and `£`.
    #[default]
    Ita2,
    /// The row common in the United States trade.
    Us,
}

/// What a code means to a printer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Symbol {
    /// This character is printed. Never a space.
    Print(char),
    /// The carriage moves on without printing.
    Space,
    /// The carriage returns to the left margin.
    CarriageReturn,
    /// The paper moves up by one line.
    LineFeed,
    /// From here on codes mean letters.
    Letters,
    /// From here on codes mean figures.
    Figures,
    /// The bell rings.
    Bell,
    /// "Who are you": the receiving machine is asked for its answer-back.
    WhoAreYou,
    /// Combination 32, all elements space: nothing is printed.
    Blank,
}

impl Symbol {
    /// The symbol as a character of text, or `None` if it leaves nothing in text.
    ///
    /// Carriage return, line feed, bell and "who are you" are the control characters
    /// CR, LF, BEL and ENQ of IA5.
    pub const fn text(self) -> Option<char> {
        match self {
            Symbol::Print(c) => Some(c),
            Symbol::Space => Some(' '),
            Symbol::CarriageReturn => Some('\r'),
            Symbol::LineFeed => Some('\n'),
            Symbol::Bell => Some('\u{7}'),
            Symbol::WhoAreYou => Some('\u{5}'),
            Symbol::Letters | Symbol::Figures | Symbol::Blank => None,
        }
    }

    /// The printed character, a space included; `None` for everything else.
    pub const fn printed(self) -> Option<char> {
        match self {
            Symbol::Print(c) => Some(c),
            Symbol::Space => Some(' '),
            _ => None,
        }
    }
}

impl fmt::Display for FiguresRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            FiguresRow::Ita2 => "ITA2",
            FiguresRow::Us => "US",
        })
    }
}

impl FromStr for FiguresRow {
    type Err = String;

    /// "ITA2" or "US", in upper or lower case.
    fn from_str(word: &str) -> Result<Self, String> {
        [FiguresRow::Ita2, FiguresRow::Us]
            .into_iter()
            .find(|row| row.to_string().eq_ignore_ascii_case(word))
            .ok_or_else(|| format!("figures row \"{word}\"; give \"ITA2\" or \"US\""))
    }
}

// Rows in order of code value. Places that do not print hold one of the characters below,
// which `meaning` turns into symbols.
//                       0         1         2         3
//                       01234567890123456789012345678901
const LETTERS: &[u8] = b"~E|A SIU<DRJNFCKTZLWHYPQOBG^MXV_";
const ITA2: &[u8] = b"~3|- '87<@4*,!:(5+)2L6019?&^./=_";
const US: &[u8] = b"~3|- *87<$4',!:(5\")2#6019?&^./;_";

const fn meaning(place: u8) -> Symbol {
    match place {
        b'~' => Symbol::Blank,
        b'|' => Symbol::LineFeed,
        b'<' => Symbol::CarriageReturn,
        b' ' => Symbol::Space,
        b'^' => Symbol::Figures,
        b'_' => Symbol::Letters,
        b'*' => Symbol::Bell,
        b'@' => Symbol::WhoAreYou,
        // The pound sign has no place in a byte string; `L` never stands in a figures row.
        printed => Symbol::Print(printed as char),
    }
}

/// What `code` means in this shift and figures row.
pub const fn symbol(code: Code, shift: Shift, row: FiguresRow) -> Symbol {
    let place = code.value() as usize;
    match (shift, row) {
        (Shift::Letters, _) => meaning(LETTERS[place]),
        (Shift::Figures, FiguresRow::Ita2) if ITA2[place] == b'L' => Symbol::Print('£'),
        (Shift::Figures, FiguresRow::Ita2) => meaning(ITA2[place]),
        (Shift::Figures, FiguresRow::Us) => meaning(US[place]),
    }
}

/// Which code stands for a symbol, and the shift it needs.
///
/// The shift is `None` where the code means the same in both shifts. The result is `None`
/// where the row does not hold the symbol; [`Symbol::Print`] wants upper case.
pub fn lookup(wanted: Symbol, row: FiguresRow) -> Option<(Code, Option<Shift>)> {
    Code::ALL.into_iter().find_map(|code| {
        let letters = symbol(code, Shift::Letters, row) == wanted;
        let figures = symbol(code, Shift::Figures, row) == wanted;
        match (letters, figures) {
            (true, true) => Some((code, None)),
            (true, false) => Some((code, Some(Shift::Letters))),
            (false, true) => Some((code, Some(Shift::Figures))),
            (false, false) => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Elements 1 to 5, letters, figures (ITA2), figures (US); combinations 1 to 26.
    /// ITU-T S.1 Table 1 from memory; the table was compared with two public libraries
    /// (PyPI `baudot` 0.1.1.post2 and `iconvex`), which agree in all 32 patterns and in
    /// the US row. `B` = bell, `W` = who are you.
    const TABLE: [(&str, char, char, char); 26] = [
        ("11000", 'A', '-', '-'),
        ("10011", 'B', '?', '?'),
        ("01110", 'C', ':', ':'),
        ("10010", 'D', 'W', '$'),
        ("10000", 'E', '3', '3'),
        ("10110", 'F', '!', '!'),
        ("01011", 'G', '&', '&'),
        ("00101", 'H', '£', '#'),
        ("01100", 'I', '8', '8'),
        ("11010", 'J', 'B', '\''),
        ("11110", 'K', '(', '('),
        ("01001", 'L', ')', ')'),
        ("00111", 'M', '.', '.'),
        ("00110", 'N', ',', ','),
        ("00011", 'O', '9', '9'),
        ("01101", 'P', '0', '0'),
        ("11101", 'Q', '1', '1'),
        ("01010", 'R', '4', '4'),
        ("10100", 'S', '\'', 'B'),
        ("00001", 'T', '5', '5'),
        ("11100", 'U', '7', '7'),
        ("01111", 'V', '=', ';'),
        ("11001", 'W', '2', '2'),
        ("10111", 'X', '/', '/'),
        ("10101", 'Y', '6', '6'),
        ("10001", 'Z', '+', '"'),
    ];

    fn code(elements: &str) -> Code {
        let bits: Vec<bool> = elements.chars().map(|c| c == '1').collect();
        Code::from_elements(bits.try_into().expect("five elements"))
    }

    fn sign(letter: char) -> Symbol {
        match letter {
            'B' => Symbol::Bell,
            'W' => Symbol::WhoAreYou,
            c => Symbol::Print(c),
        }
    }

    #[test]
    fn the_printing_combinations_are_those_of_the_table() {
        for (elements, letter, ita2, us) in TABLE {
            let c = code(elements);
            let found = [FiguresRow::Ita2, FiguresRow::Us].map(|row| {
                assert_eq!(symbol(c, Shift::Letters, row), Symbol::Print(letter));
                symbol(c, Shift::Figures, row)
            });
            assert_eq!(found, [sign(ita2), sign(us)], "{elements} {letter}");
        }
    }

    #[test]
    fn the_controls_mean_the_same_in_both_shifts() {
        let controls = [
            ("00010", Code::CARRIAGE_RETURN, Symbol::CarriageReturn),
            ("01000", Code::LINE_FEED, Symbol::LineFeed),
            ("11111", Code::LETTERS, Symbol::Letters),
            ("11011", Code::FIGURES, Symbol::Figures),
            ("00100", Code::SPACE, Symbol::Space),
            ("00000", Code::BLANK, Symbol::Blank),
        ];
        for (elements, named, expected) in controls {
            assert_eq!(code(elements), named);
            for row in [FiguresRow::Ita2, FiguresRow::Us] {
                assert_eq!(symbol(named, Shift::Letters, row), expected);
                assert_eq!(symbol(named, Shift::Figures, row), expected);
            }
        }
    }

    #[test]
    fn the_rows_differ_at_d_h_j_s_v_z() {
        let differ: String = Code::ALL
            .into_iter()
            .filter(|&c| {
                symbol(c, Shift::Figures, FiguresRow::Ita2)
                    != symbol(c, Shift::Figures, FiguresRow::Us)
            })
            .filter_map(|c| symbol(c, Shift::Letters, FiguresRow::Ita2).printed())
            .collect();
        let mut letters: Vec<char> = differ.chars().collect();
        letters.sort_unstable();
        assert_eq!(letters, ['D', 'H', 'J', 'S', 'V', 'Z']);
    }

    #[test]
    fn lookup_is_the_inverse_of_symbol() {
        for row in [FiguresRow::Ita2, FiguresRow::Us] {
            for shift in [Shift::Letters, Shift::Figures] {
                for c in Code::ALL {
                    let (found, needs) = lookup(symbol(c, shift, row), row).expect("in the row");
                    assert_eq!(found, c);
                    assert!(needs.is_none_or(|s| s == shift));
                }
            }
        }
        assert_eq!(lookup(Symbol::Print('%'), FiguresRow::Us), None);
        assert_eq!(lookup(Symbol::WhoAreYou, FiguresRow::Us), None);
    }

    /// Worked example W12: R is 01010 and Y is 10101.
    #[test]
    fn r_and_y_are_complements() {
        let r = lookup(Symbol::Print('R'), FiguresRow::Ita2).expect("R").0;
        let y = lookup(Symbol::Print('Y'), FiguresRow::Ita2).expect("Y").0;
        assert_eq!(
            (r.to_string(), y.to_string()),
            ("01010".into(), "10101".into())
        );
        assert_eq!(r.distance(y), 5);
    }
}
