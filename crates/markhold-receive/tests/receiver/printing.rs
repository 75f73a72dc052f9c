//! What codes mean: figures row, shift, unshift on space.

use crate::hear::{hear, render, scene, sender};
use markhold_air::Sender;
use markhold_code::{Code, EncodeOptions, FiguresRow, Shift, Symbol, encode};
use markhold_receive::Settings;

/// Enough letters to be found by, then `codes`.
fn printed(codes: &[Code], settings: Settings) -> Vec<Symbol> {
    let before = sender("THE PRINTER IS RUNNING DE Q7PRT ");
    let count = before.codes.len();
    let all: Vec<Code> = before.codes.iter().chain(codes).copied().collect();
    let sender = Sender {
        codes: all.clone(),
        ..before
    };
    let heard = hear(&render(scene(sender, 20.0), 8000), 8000, settings);
    assert_eq!(heard.codes(), all, "{}", heard.printed());
    heard.characters().skip(count).map(|c| c.symbol).collect()
}

fn values(values: &[u8]) -> Vec<Code> {
    values.iter().filter_map(|&v| Code::new(v)).collect()
}

/// Figures of S, J and D: apostrophe, bell and "who are you" in ITU-T S.1; bell,
/// apostrophe and dollar in the US row (US Army teletypewriter training text).
#[test]
fn the_figures_row_is_the_one_set() {
    let codes = values(&[27, 5, 11, 9]);
    let row = |row| Settings {
        figures_row: Some(row),
        ..Settings::default()
    };
    assert_eq!(
        printed(&codes, row(FiguresRow::Ita2)),
        [
            Symbol::Figures,
            Symbol::Print('\''),
            Symbol::Bell,
            Symbol::WhoAreYou
        ]
    );
    assert_eq!(
        printed(&codes, row(FiguresRow::Us)),
        [
            Symbol::Figures,
            Symbol::Bell,
            Symbol::Print('\''),
            Symbol::Print('$')
        ]
    );
}

/// FIGS Q SPACE Q: "1 1", or "1 Q" on a printer that returns to letters on a space.
#[test]
fn a_space_unshifts_only_if_set() {
    let codes = values(&[27, 23, 4, 23]);
    for (unshift_on_space, last) in [(false, '1'), (true, 'Q')] {
        let settings = Settings {
            unshift_on_space: Some(unshift_on_space),
            ..Settings::default()
        };
        assert_eq!(
            printed(&codes, settings),
            [
                Symbol::Figures,
                Symbol::Print('1'),
                Symbol::Space,
                Symbol::Print(last)
            ]
        );
    }
}

#[test]
fn the_shift_told_is_the_one_before_the_character() {
    let options = EncodeOptions {
        shift_again_after_space: false,
        ..EncodeOptions::default()
    };
    let codes = encode("DE Q7PRT 12 34 AB 5", FiguresRow::Ita2, options).expect("can be sent");
    let sender = Sender {
        codes,
        ..sender("")
    };
    let sound = render(scene(sender, 20.0), 8000);
    let heard = hear(&sound, 8000, Settings::default());
    let mut shift = Shift::Letters;
    for character in heard.characters() {
        assert_eq!(character.shift, shift);
        match character.code {
            Code::LETTERS => shift = Shift::Letters,
            Code::FIGURES => shift = Shift::Figures,
            _ => {}
        }
    }
    assert_eq!(heard.printed(), "DE Q7PRT 12 34 AB 5");
}
