//! Laws of text, and known answers from the tables of ITU-T S.1.

use super::*;
use crate::characters::reading::Reading;
use crate::pair::conditions::Conditions;
use markhold_code::{EncodeOptions, Symbol, decode, encode};
use proptest::prelude::*;

const ELEMENT_S: f64 = 0.022;
const PITCH_S: f64 = 7.5 * ELEMENT_S;

/// A character every 165 ms, of these shares of codes.
fn heard(at: usize, shares: &[(u8, f32)]) -> Heard {
    let mut codes = [0.0; CODES];
    shares
        .iter()
        .for_each(|&(code, p)| codes[usize::from(code)] += p);
    Heard {
        start_s: PITCH_S * at as f64,
        reading: Reading {
            start: 0.0,
            spread: 0.0,
            present: 1.0,
            codes,
        },
        conditions: Conditions::default(),
    }
}

fn certain(codes: &[Code]) -> Vec<Heard> {
    let list = codes.iter().enumerate();
    list.map(|(at, code)| heard(at, &[(code.value(), 1.0)]))
        .collect()
}

/// A text of which some codes were read as another one with so much probability.
fn doubtful(text: &str, wrong: &[(usize, u8, f32)]) -> Vec<Heard> {
    let mut list = certain(&sent(text));
    for &(at, other, p) in wrong {
        let code = list[at].reading.best() as u8;
        list[at] = heard(at, &[(code, 1.0 - p), (other, p)]);
    }
    list
}

fn sent(text: &str) -> Vec<Code> {
    let options = EncodeOptions {
        shift_again_after_space: false,
        ..EncodeOptions::default()
    };
    encode(text, FiguresRow::Ita2, options).expect("can be sent")
}

fn settings(language: LanguageUse) -> Settings {
    Settings {
        language,
        ..Settings::default()
    }
}

/// Reads with windows of so many characters and a look ahead of so many.
fn read_in(settings: &Settings, heard: &[Heard], window: usize, ahead: usize) -> Vec<Decided> {
    let (mut text, mut out) = (Text::new(settings), Vec::new());
    for at in (0..heard.len()).step_by(window) {
        let end = (at + window).min(heard.len());
        for one in &heard[at..end] {
            text.take(one.clone(), ELEMENT_S);
        }
        let view = &heard[end..(end + ahead).min(heard.len())];
        text.give(PITCH_S * end as f64, view, ELEMENT_S, &mut out);
    }
    text.finish(&mut out);
    out
}

fn read(settings: &Settings, heard: &[Heard]) -> Vec<Decided> {
    read_in(settings, heard, 9, 7)
}

fn symbols(decided: &[Decided]) -> Vec<Symbol> {
    let one = |d: &Decided| symbol(d.code, d.shift, d.row);
    decided.iter().map(one).collect()
}

fn printed(decided: &[Decided]) -> String {
    symbols(decided)
        .into_iter()
        .filter_map(Symbol::text)
        .collect()
}

fn codes(values: &[u8]) -> Vec<Code> {
    values.iter().filter_map(|v| Code::new(*v)).collect()
}

/// ITU-T S.1: a shift holds until the next. Combinations 16, 24, 23, 5 in figures are 0, 7 is
/// 21; sent without repeating the shift after a space.
#[test]
fn figures_stay_figures_where_the_shift_is_not_repeated() {
    let text = "NR 0600 3587 0700 7040 UTC QNH 1013 ALL OK";
    for language in [LanguageUse::Off, LanguageUse::On] {
        let out = read(&settings(language), &certain(&sent(text)));
        assert_eq!(printed(&out), text);
        assert!(out.iter().all(|d| d.probability > 0.99));
    }
}

#[test]
fn a_space_that_returns_to_letters_is_found_and_can_be_forced() {
    // FIGS 1 2 3 SPACE, then METRES without a letters shift, thrice.
    let mut list = vec![Code::LETTERS];
    for _ in 0..3 {
        list.extend(sent("123"));
        list.extend(sent(" METRES WIND FROM WEST "));
    }
    let out = read(&settings(LanguageUse::Off), &certain(&list));
    assert_eq!(printed(&out), "123 METRES WIND FROM WEST ".repeat(3));
    let holds = Settings {
        unshift_on_space: Some(false),
        ..settings(LanguageUse::On)
    };
    let out = read(&holds, &certain(&list));
    assert_eq!(printed(&out), decode(&list, FiguresRow::Ita2, false));
}

/// Codes of a sender whose machine returns to letters on a space: a figures shift before each group,
/// none before a word after a group.
fn sent_by_one_who_unshifts(text: &str) -> Vec<Code> {
    let (mut list, mut shift) = (vec![Code::LETTERS], Shift::Letters);
    for c in text.chars() {
        let needed = match c {
            'A'..='Z' => Shift::Letters,
            '0'..='9' | '/' | '-' => Shift::Figures,
            _ => shift,
        };
        if needed != shift {
            shift = needed;
            list.push([Code::LETTERS, Code::FIGURES][shift as usize]);
        }
        let prints = |code: &Code| symbol(*code, shift, FiguresRow::Ita2).text() == Some(c);
        list.extend(Code::ALL.into_iter().find(prints));
        if c == ' ' {
            shift = Shift::Letters;
        }
    }
    list
}

#[test]
fn words_between_groups_are_words_where_a_space_returns_to_letters() {
    let text = "EAST QUILLY 2800 15291 27879 33384 44659 60782 WIND 065/15 TEMP 0-21\r\n\
        VARN 2618 10440 29226 39932 45774 51221 61257 WIND 175/30 TEMP 10-23\r\n";
    let list = sent_by_one_who_unshifts(text);
    assert_eq!(decode(&list, FiguresRow::Ita2, true), text);
    for language in [LanguageUse::Off, LanguageUse::On] {
        let out = read(&settings(language), &certain(&list));
        assert_eq!(printed(&out), text);
    }
}

/// S and J: apostrophe and bell in ITA2, bell and apostrophe in the US row (ITU-T S.1; US
/// Army teletypewriter training text).
#[test]
fn the_figures_row_is_told_by_where_signs_stand() {
    let options = EncodeOptions::default();
    for row in [FiguresRow::Ita2, FiguresRow::Us] {
        let text = "I DON'T KNOW. IT'S LATE AND WE CAN'T WAIT";
        let list = encode(text, row, options).expect("can be sent");
        let mut reader = Text::new(&settings(LanguageUse::On));
        let mut out = Vec::new();
        for one in certain(&list) {
            reader.take(one, ELEMENT_S);
        }
        reader.finish(&mut out);
        assert_eq!(printed(&out), text);
        assert_eq!(reader.habits().row, Some(row));
    }
    let bells = encode("ALARM \u{7}\u{7}\u{7} COME", FiguresRow::Us, options).expect("can be sent");
    let out = read(&settings(LanguageUse::On), &certain(&bells));
    assert_eq!(printed(&out), "ALARM \u{7}\u{7}\u{7} COME");
}

#[test]
fn a_false_figures_shift_spoils_nothing() {
    // A figures shift read for K (combination 11; an element apart), rather surely.
    let text = "QXJVK WPFYA ZXHWV KQPBH ZQWXD JVFKQ BHZQP WQKJV";
    let at = sent(text)
        .iter()
        .position(|c| c.value() == 0b01111)
        .expect("K was sent");
    for language in [LanguageUse::Off, LanguageUse::On] {
        let mut list = doubtful(text, &[(at, 0b11011, 0.9)]);
        let out = read(&settings(language), &list);
        assert_eq!(printed(&out), text, "{language:?}");
        // And a letters shift for 1 (combination 17) in figures.
        let figures = "11111 29481 63750 28164 90517 36284";
        list = doubtful(figures, &[(3, 0b11111, 0.9)]);
        let out = read(&settings(language), &list);
        assert_eq!(printed(&out), figures, "{language:?}");
    }
}

#[test]
fn rows_say_nothing_of_their_shift() {
    let row = "RYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRYRY";
    for at in (0..row.len()).step_by(5) {
        let out = read(
            &settings(LanguageUse::On),
            &doubtful(row, &[(at, 0b11011, 0.02)]),
        );
        assert_eq!(printed(&out), row, "{at}");
    }
}

/// Combination 24 (X) instead of combination 20 (T), ITU-T S.1.
const WRONG: [(usize, u8, f32); 1] = [(5, 0b11101, 0.8)];
const TEXT: &str = "THE OTHER STATION";

#[test]
fn on_changes_and_says_so() {
    let out = read(&settings(LanguageUse::On), &doubtful(TEXT, &WRONG));
    assert_eq!(printed(&out), TEXT);
    for (i, d) in out.iter().enumerate() {
        let w = d.witnesses.expect("language was asked");
        assert_eq!(w.differ(), i == 5, "{d:?}");
        assert_eq!((w.both.code, w.both.probability), (d.code, d.probability));
    }
    let w = out[5].witnesses.expect("language was asked");
    assert_eq!(w.signal.symbol.text(), Some('X'));
    assert!((w.from_signal - 0.2).abs() < 0.05, "{w:?}");
    assert!(out[5].probability > 0.9, "{:?}", out[5]);
}

#[test]
fn mark_changes_nothing_and_says_what_it_would() {
    let list = doubtful(TEXT, &WRONG);
    let out = read(&settings(LanguageUse::Mark), &list);
    let off = read(&settings(LanguageUse::Off), &list);
    assert_eq!(printed(&out), "THE OXHER STATION");
    for (marked, off) in out.iter().zip(&off) {
        assert_eq!(off.witnesses, None);
        assert_eq!(marked.probability, off.probability);
    }
    let w = out[5].witnesses.expect("language was asked");
    assert!(w.differ());
    assert_eq!(w.both.symbol.text(), Some('T'));
}

#[test]
fn what_the_signal_rules_out_is_not_brought_back() {
    let wrong = [(5, 0b11101, 1.0 - 5e-5)];
    let out = read(&settings(LanguageUse::On), &doubtful(TEXT, &wrong));
    assert_eq!(printed(&out), "THE OXHER STATION");
}

#[test]
fn a_character_waits_no_longer_than_it_must() {
    let mut text = Text::new(&settings(LanguageUse::On));
    let mut out = Vec::new();
    for (at, one) in certain(&sent("NOW IS THE TIME")).into_iter().enumerate() {
        text.take(one, ELEMENT_S);
        text.give(PITCH_S * at as f64, &[], ELEMENT_S, &mut out);
        let waiting = at + 1 - out.len();
        assert!(waiting as f64 <= WAIT_S / PITCH_S + 1.0, "{waiting}");
    }
}

#[test]
fn an_archive_teaches_its_names() {
    // Combination 10 (J) instead of combination 11 (K), as likely as not.
    let wrong = [(4, 0b01011, 0.5), (7, 0b00111, 0.5)];
    let text = "DE QKESTREL";
    let list = doubtful(text, &wrong);
    let mut learned = Learned::default();
    learned.learn("DE QKESTREL DE QKESTREL DE QKESTREL");
    let own = Settings {
        learned: Some(Arc::new(learned)),
        ..settings(LanguageUse::On)
    };
    let out = read(&own, &list);
    assert_eq!(printed(&out), text);
    let general = read(&settings(LanguageUse::On), &list);
    assert!(out[4].probability > general[4].probability);
}

#[test]
fn an_early_character_is_read_by_what_came_before() {
    let mut text = Text::new(&settings(LanguageUse::On));
    let list = certain(&sent("AT 0600 3587 UTC"));
    let early: Vec<Decided> = list
        .iter()
        .map(|one| {
            let early = text.early(one, ELEMENT_S);
            if one.start_s < 1.0 {
                text.take(one.clone(), ELEMENT_S);
            }
            early
        })
        .collect();
    assert_eq!(printed(&early), "AT 0600 3587 UTC");
}

fn any_codes() -> impl Strategy<Value = Vec<Code>> {
    prop::collection::vec(0u8..32, 1..60).prop_map(|values| codes(&values))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Language has no say in figures, whatever was sent: where every code is certain, it
    /// changes no glyph, and shifts are those of the sender's machine.
    #[test]
    fn where_nothing_is_doubtful_language_changes_nothing(list in any_codes(), unshifts: bool) {
        let heard = certain(&list);
        let [off, on] = [LanguageUse::Off, LanguageUse::On].map(|l| read(&settings(l), &heard));
        prop_assert_eq!(symbols(&off), symbols(&on));
        let forced = Settings {
            unshift_on_space: Some(unshifts),
            figures_row: Some(FiguresRow::Ita2),
            ..settings(LanguageUse::On)
        };
        let list = [&[Code::LETTERS][..], &list].concat();
        let out = read(&forced, &certain(&list));
        prop_assert_eq!(printed(&out), decode(&list, FiguresRow::Ita2, unshifts));
    }

    /// What is decided does not depend on the blocks in which it comes, where all that
    /// follows is in view.
    #[test]
    fn blocks_do_not_matter(list in any_codes(), window in 1usize..20, doubt in 0.0f32..0.5) {
        let heard: Vec<Heard> = list.iter().enumerate().map(|(at, code)| {
            heard(at, &[(code.value(), 1.0 - doubt), (code.value() ^ 4, doubt)])
        }).collect();
        let on = settings(LanguageUse::On);
        let [whole, cut] = [heard.len(), window].map(|w| read_in(&on, &heard, w, heard.len()));
        prop_assert_eq!(symbols(&whole), symbols(&cut));
        for (a, b) in whole.iter().zip(&cut) {
            prop_assert!((a.probability - b.probability).abs() < 1e-3, "{:?} {:?}", a, b);
        }
    }

    /// Every glyph's probability is one, and all that a character may be adds up to no more
    /// than certainty.
    #[test]
    fn probabilities_are_probabilities(
        shares in prop::collection::vec(prop::collection::vec(0.0f32..1.0, 32), 1..6),
    ) {
        let heard: Vec<Heard> = shares.iter().enumerate().map(|(at, list)| {
            let list: Vec<(u8, f32)> = (0u8..).zip(list.iter().copied()).collect();
            heard(at, &list)
        }).collect();
        for d in read(&settings(LanguageUse::On), &heard) {
            let all = d.probability + d.alternatives.iter().map(|a| a.probability).sum::<f32>();
            prop_assert!(all <= 1.0 + 1e-4 && d.probability >= 0.0);
            prop_assert!(d.in_shift >= d.probability - 1e-4);
        }
    }
}
