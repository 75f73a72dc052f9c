//! Made-up characters, for the tests of the crate and those beside it.
#![allow(dead_code, missing_docs, reason = "each test uses its own part of it")]

use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup};
use markhold_event::{Alternative, Character, CharacterId, Doubt, SignalId};

/// Characters of a text, 0.165 s each; one before a `?` is doubtful.
pub fn characters(id: u32, text: &str) -> Vec<Character> {
    characters_from(id, 4.0, text)
}

/// The same from `begin_s` on.
pub fn characters_from(id: u32, begin_s: f64, text: &str) -> Vec<Character> {
    let next = text.chars().skip(1).map(Some).chain([None]);
    let kept = text.chars().zip(next).filter(|(c, _)| *c != '?');
    kept.enumerate()
        .map(|(k, (c, next))| character(id, begin_s + 0.165 * k as f64, c, next == Some('?')))
        .collect()
}

/// One character.
pub fn character(id: u32, start_s: f64, c: char, doubtful: bool) -> Character {
    let symbol = match c {
        ' ' => Symbol::Space,
        '\r' => Symbol::CarriageReturn,
        '\n' => Symbol::LineFeed,
        other => Symbol::Print(other),
    };
    let (code, shift) = lookup(symbol, FiguresRow::Ita2).expect("in the alphabet");
    let other = Alternative {
        code: Code::SPACE,
        symbol: Symbol::Space,
        probability: if doubtful { 0.2 } else { 0.0 },
    };
    Character {
        signal: SignalId(id),
        id: CharacterId::of_start(start_s),
        start_s,
        code,
        shift: shift.unwrap_or(Shift::Letters),
        symbol,
        probability: if doubtful { 0.6 } else { 0.995 },
        present: 1.0,
        codes: None,
        alternatives: [other; 2],
        doubt: doubtful.then_some(Doubt::Fade),
        witnesses: None,
    }
}
