//! What is printed for a character that the machine has no type for.

use crate::machine::Machine;
use markhold_code::{EncodeOptions, decode, encode_lossy};

/// What the machine prints for any character: itself, what reads the same to a person, or
/// the machine's replacement.
pub fn printable(c: char, machine: &Machine) -> String {
    let capital = c.to_ascii_uppercase();
    if machine.has(capital) {
        return capital.into();
    }
    let has_all = |text: &&str| text.chars().all(|c| c == ' ' || machine.has(c));
    if let Some(text) = reads_the_same(c).filter(has_all) {
        return text.into();
    }
    // What no machine with this figures row has is told by the alphabet.
    let options = EncodeOptions::default();
    let codes = encode_lossy(
        &c.to_string(),
        machine.figures,
        options,
        machine.replacement,
    );
    let written = decode(&codes, machine.figures, false);
    let or_replacement = |c| match c {
        ' ' => c,
        c if machine.has(c) => c,
        _ => machine.replacement,
    };
    written.chars().map(or_replacement).collect()
}

/// For characters that stand in a figures row, but for which not every machine of that row
/// has type (common practice and plain sense).
fn reads_the_same(c: char) -> Option<&'static str> {
    Some(match c {
        '!' => ".",
        '&' => "+",
        '£' => "GBP ",
        '$' => "USD ",
        '#' => "NR ",
        '"' => "''",
        ';' => ",",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kind;

    #[test]
    fn what_is_missing_reads_the_same_or_is_seen() {
        let ita2 = &kind("ita2-69-50").unwrap().machine;
        let us = &kind("us-72-45").unwrap().machine;
        for (c, on_ita2, on_us) in [
            ('a', "A", "A"),
            ('é', "E", "E"),
            ('!', ".", "!"),
            ('&', "+", "&"),
            ('£', "GBP ", "GBP "),
            ('#', "NR ", "#"),
            ('=', "=", " EQUALS "),
            ('%', "0/0", "0/0"),
            ('日', "?", "?"),
        ] {
            assert_eq!(printable(c, ita2), on_ita2);
            assert_eq!(printable(c, us), on_us);
        }
        let bare = Machine {
            lacks: "!.".into(),
            ..us.clone()
        };
        assert_eq!(printable('!', &bare), "?");
    }
}
