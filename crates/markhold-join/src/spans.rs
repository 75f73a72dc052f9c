//! Words in which two copies may differ on purpose.

use std::ops::Range;

use markhold_code::Code;

use crate::columns::{Column, Columns, Prepared};
use crate::rates::SURE;
use crate::shares::{Shares, best, normal};

/// Longest word that is shown as a variant, characters; what is longer is cut.
const LONGEST: usize = 32;

/// What a copy has at a column, and how surely it was sent.
pub(crate) fn says(column: &Column, copies: &[Prepared], copy: usize) -> Option<(usize, f32)> {
    let shares = shares(column, copies, copy)?;
    let present = copies[copy].rows[column.slot(copy)?].present;
    let code = best(&shares);
    Some((code, shares[code] * present))
}

/// Shares of all codes by one copy alone.
pub(crate) fn shares(column: &Column, copies: &[Prepared], copy: usize) -> Option<Shares> {
    let row = &copies[copy].rows[column.slot(copy)?];
    Some(normal(&row.odds))
}

/// The words in which two copies are sure and do not say the same.
pub(crate) fn spans(columns: &Columns, copies: &[Prepared]) -> Vec<Range<usize>> {
    let mut spans: Vec<Range<usize>> = Vec::new();
    for word in words(columns) {
        let these = &columns.all[word.clone()];
        if !these.iter().any(|c| differ_at(c, copies)) && !instead(these, columns, copies) {
            continue;
        }
        match spans.last_mut() {
            // What parts two words that differ may differ as well; lines stay apart.
            Some(last) if last.end + 1 >= word.start && !ends_line(columns, last.end) => {
                last.end = word.end;
            }
            _ => spans.push(word),
        }
    }
    spans
}

fn ends_line(columns: &Columns, at: usize) -> bool {
    let code = columns
        .all
        .get(at)
        .map(|c| Code::ALL[best(&columns.product(c))]);
    [Some(Code::CARRIAGE_RETURN), Some(Code::LINE_FEED)].contains(&code)
}

/// Columns between spaces and ends of lines.
fn words(columns: &Columns) -> Vec<Range<usize>> {
    let mut words = Vec::new();
    let mut begin = 0;
    for (at, column) in columns.all.iter().enumerate() {
        if parts_words(columns, column) || at - begin == LONGEST {
            words.push(begin..at);
            begin = at + 1;
        }
    }
    words.push(begin..columns.all.len());
    words.retain(|w| !w.is_empty());
    words
}

/// Whether two copies are sure of different codes.
fn differ_at(column: &Column, copies: &[Prepared]) -> bool {
    let mut sure = column
        .bearers()
        .filter_map(|copy| says(column, copies, copy))
        .filter(|(_, p)| *p > SURE);
    sure.next()
        .is_some_and(|(first, _)| sure.any(|(code, _)| code != first))
}

/// Whether in a word one copy surely has what another passes, and the other way round: the
/// same place in other words.
fn instead(word: &[Column], columns: &Columns, copies: &[Prepared]) -> bool {
    let count = word[0].voices.len();
    let figures: Vec<f32> = word.iter().map(|c| columns.figures(c)).collect();
    let sure =
        |copy: usize, at: usize| says(&word[at], copies, copy).is_some_and(|(_, p)| p > SURE);
    let only = |a: usize, b: usize, at: usize| {
        let passed = word[at].voices[b]
            .as_ref()
            .is_some_and(|v| v.slot.is_none());
        passed && word[at].slot(a).is_some()
    };
    let more = |a: usize, b: usize| {
        let replaced = |at: usize| instead_of(word.len(), &figures, at, |k| only(b, a, k));
        (0..word.len()).any(|at| only(a, b, at) && sure(a, at) && replaced(at))
    };
    (0..count).any(|a| (0..a).any(|b| more(a, b) && more(b, a)))
}

/// Whether a character that one copy has and another lacks may stand for something else there:
/// figures may, letters where the other has something of its own beside it. Elsewhere one was
/// lost.
pub(crate) fn instead_of(
    count: usize,
    figures: &[f32],
    at: usize,
    other_has: impl Fn(usize) -> bool,
) -> bool {
    let beside = [at.checked_sub(1), Some(at + 1).filter(|k| *k < count)];
    figures[at] > 0.5 || beside.into_iter().flatten().any(other_has)
}

/// Whether a column ends a word.
fn parts_words(columns: &Columns, column: &Column) -> bool {
    let code = Code::ALL[best(&columns.product(column))];
    [Code::SPACE, Code::CARRIAGE_RETURN, Code::LINE_FEED].contains(&code)
}
