//! What is behind a character of a joint copy: what else it may be, and what each copy reads.

use super::copies::KeptCopy;
use markhold_code::{Code, FiguresRow, Symbol, symbol};
use markhold_join::JointCharacter;

/// Others less likely than this are not worth a word, probability.
const LEAST: f32 = 0.01;
/// Most others that are told.
const MOST: usize = 2;

/// What one copy reads at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Says {
    /// The copy, by its place among those joined.
    pub copy: usize,
    /// What it reads by its signal alone.
    pub symbol: Symbol,
    /// How surely, 0 to 1.
    pub probability: f32,
    /// When, s from the first sample of its evening.
    pub at_s: f64,
}

/// The likeliest other readings with their probabilities, the likeliest first.
pub(super) fn others(character: &JointCharacter, row: FiguresRow) -> Vec<(Symbol, f32)> {
    let there = character.present * character.agreed;
    let others = Code::ALL.into_iter().filter(|c| *c != character.code());
    let share = |code: Code| character.codes[usize::from(code.value())] * there;
    let mut all: Vec<(Symbol, f32)> = others
        .map(|code| (symbol(code, character.shift(), row), share(code)))
        .filter(|(_, p)| *p >= LEAST)
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all.truncate(MOST);
    all
}

/// What each copy that bears it reads.
pub(super) fn says(character: &JointCharacter, copies: &[KeptCopy]) -> Vec<Says> {
    let of = |copy: usize| {
        let read = copies[copy].character(character.slots[copy]?).by_signal();
        Some(Says {
            copy,
            symbol: read.symbol,
            probability: read.probability,
            at_s: read.start_s,
        })
    };
    (0..copies.len()).filter_map(of).collect()
}
