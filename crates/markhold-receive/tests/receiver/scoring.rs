//! The yardsticks themselves: edit distance and the texts.

use crate::score::errors;
use crate::text::{call, draw, message};
use markhold_code::{EncodeOptions, FiguresRow, encode};
use proptest::prelude::*;

/// Worked examples of common practice in teaching: kitten and sitting, Saturday and
/// Sunday are 3 apart (from memory).
#[test]
fn known_distances() {
    let distance = |a: &str, b: &str| errors(a.as_bytes(), b.as_bytes());
    assert_eq!(distance("kitten", "sitting"), 3);
    assert_eq!(distance("saturday", "sunday"), 3);
    assert_eq!(distance("", "abc"), 3);
    assert_eq!(distance("abc", ""), 3);
    assert_eq!(distance("abc", "abc"), 0);
}

/// The definition itself, slow and obvious.
fn slow(a: &[u8], b: &[u8]) -> usize {
    match (a, b) {
        ([], rest) | (rest, []) => rest.len(),
        ([x, a_rest @ ..], [y, b_rest @ ..]) => {
            let wrong = slow(a_rest, b_rest) + usize::from(x != y);
            wrong.min(slow(a_rest, b) + 1).min(slow(a, b_rest) + 1)
        }
    }
}

proptest! {
    #[test]
    fn fast_equals_slow(
        a in proptest::collection::vec(0..3_u8, 0..7),
        b in proptest::collection::vec(0..3_u8, 0..7),
    ) {
        prop_assert_eq!(errors(&a, &b), slow(&a, &b));
    }
}

#[test]
fn texts_are_the_same_in_both_figures_rows() {
    for seed in 0..20 {
        let text = message(&mut draw("texts", seed), 500);
        assert_eq!(text.len(), 500);
        let codes = |row| encode(&text, row, EncodeOptions::default()).expect("can be sent");
        assert_eq!(codes(FiguresRow::Ita2), codes(FiguresRow::Us), "{text}");
        assert!(text.lines().all(|line| line.len() <= 69), "{text}");
    }
}

#[test]
fn calls_begin_with_q_and_a_figure() {
    let mut draw = draw("calls", 1);
    for _ in 0..200 {
        let call = call(&mut draw).into_bytes();
        assert!(call[0] == b'Q' && call[1].is_ascii_digit());
        assert!(call[2..].iter().all(u8::is_ascii_uppercase) && call.len() <= 5);
    }
}
