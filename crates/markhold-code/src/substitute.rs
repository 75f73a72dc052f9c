//! What to send in place of a character that the alphabet does not hold.

use crate::FiguresRow;

/// A replacement that reads the same to a person, or `None` if there is none.
///
/// The replacement holds only characters of the row. `%` as `0/0` and quotation marks as
/// two apostrophes are old telegraph custom (common practice); the rest is plain sense.
pub(crate) fn substitute(c: char, row: FiguresRow) -> Option<&'static str> {
    row_substitute(c, row)
        .or_else(|| sign_substitute(c))
        .or_else(|| letter_substitute(c))
}

/// Whether what is sent in place of `c` begins with a figure that would run into a number
/// before it: `50%` would read as `500/0`, `5½` as `51/2`. A hyphen parts them then, as in
/// 50-0/0 and 5-1/2 (telegrams by ITU-T F.1, from memory).
pub fn needs_hyphen(before: Option<char>, c: char) -> bool {
    let begins = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
    before.is_some_and(|before| before.is_ascii_digit()) && sign_substitute(c).is_some_and(begins)
}

/// Signs that stand in one figures row and not in the other.
fn row_substitute(c: char, row: FiguresRow) -> Option<&'static str> {
    let us = row == FiguresRow::Us;
    Some(match c {
        '"' | '\u{201c}'..='\u{201f}' | '«' | '»' if us => "\"",
        '"' | '\u{201c}'..='\u{201f}' | '«' | '»' => "''",
        '#' if !us => "NR ",
        '$' if !us => "USD ",
        ';' if !us => ",",
        '£' if us => "GBP ",
        '+' if us => " PLUS ",
        '=' if us => " EQUALS ",
        _ => return None,
    })
}

/// Signs and spaces that stand in neither row.
fn sign_substitute(c: char) -> Option<&'static str> {
    Some(match c {
        '\t' | '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{3000}' => " ",
        '\u{ad}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}' => "",
        '\u{2018}'..='\u{201b}' | '`' | '´' | '\u{2032}' => "'",
        '\u{2010}'..='\u{2015}' | '\u{2212}' | '_' | '~' => "-",
        '\u{2026}' => "...",
        '[' | '{' | '<' => "(",
        ']' | '}' | '>' => ")",
        '\\' | '|' | '÷' | '\u{2044}' => "/",
        '×' | '*' => "X",
        '•' | '·' => "-",
        '%' => "0/0",
        '@' => " AT ",
        '°' => " DEG ",
        '€' => "EUR ",
        'Ω' | '\u{2126}' => " OHM",
        'µ' | 'μ' => "U",
        '½' => "1/2",
        '¼' => "1/4",
        '¾' => "3/4",
        '¿' => "?",
        '¡' => "!",
        _ => return None,
    })
}

/// Latin letters with marks, in either case.
fn letter_substitute(c: char) -> Option<&'static str> {
    Some(match c {
        'À'..='Ã' | 'Å' | 'à'..='ã' | 'å' => "A",
        'Ä' | 'Æ' | 'ä' | 'æ' => "AE",
        'Ç' | 'ç' | 'Č' | 'č' | 'Ć' | 'ć' => "C",
        'È'..='Ë' | 'è'..='ë' => "E",
        'Ì'..='Ï' | 'ì'..='ï' => "I",
        'Ñ' | 'ñ' | 'Ń' | 'ń' => "N",
        'Ò'..='Õ' | 'ò'..='õ' => "O",
        'Ö' | 'Ø' | 'Œ' | 'ö' | 'ø' | 'œ' => "OE",
        'Ù'..='Û' | 'ù'..='û' => "U",
        'Ü' | 'ü' => "UE",
        'Ý' | 'ý' | 'ÿ' => "Y",
        'Š' | 'š' | 'Ś' | 'ś' => "S",
        'Ž' | 'ž' | 'Ż' | 'ż' | 'Ź' | 'ź' => "Z",
        'Ł' | 'ł' => "L",
        'ß' | 'ẞ' => "SS",
        'Ð' | 'ð' => "D",
        'Þ' | 'þ' => "TH",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Symbol, lookup};

    #[test]
    fn substitutes_hold_only_characters_of_the_row() {
        for row in [FiguresRow::Ita2, FiguresRow::Us] {
            for c in (0..0x3100).filter_map(char::from_u32) {
                for sent in substitute(c, row)
                    .unwrap_or("")
                    .chars()
                    .filter(|&s| s != ' ')
                {
                    assert!(
                        lookup(Symbol::Print(sent), row).is_some(),
                        "{c} gives {sent} in {row}"
                    );
                }
            }
        }
    }
}
