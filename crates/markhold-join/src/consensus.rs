//! From probabilities of matches to one way through them.

use crate::sides::Cell;

/// Weight that a match must have: below it slot and place stand better apart.
const LEAST: f32 = 0.2;

/// The matches, each after the one before in rows and columns, that together are most
/// probable: what the expected number of right matches is largest for.
pub(crate) fn way(cells: &[Cell]) -> Vec<Cell> {
    let likely: Vec<&Cell> = cells.iter().filter(|c| c.weight > LEAST).collect();
    let columns = likely.iter().map(|c| c.column + 2).max().unwrap_or(0);
    let mut best = Highest::new(columns);
    let mut before: Vec<Option<usize>> = Vec::with_capacity(likely.len());
    let mut sums: Vec<f32> = Vec::with_capacity(likely.len());
    let mut noted = 0;
    for (at, cell) in likely.iter().enumerate() {
        // Cells of one row do not follow each other.
        while likely[noted].row < cell.row {
            best.raise(likely[noted].column + 1, sums[noted], noted);
            noted += 1;
        }
        let (sum, from) = best.below(cell.column + 1);
        sums.push(sum + cell.weight - LEAST);
        before.push(from);
        debug_assert_eq!(before.len(), at + 1);
    }
    let last = (0..sums.len()).max_by(|a, b| sums[*a].total_cmp(&sums[*b]));
    let mut way: Vec<Cell> = std::iter::successors(last, |at| before[*at])
        .map(|at| *likely[at])
        .collect();
    way.reverse();
    way
}

/// How much the score may fall along a way before it counts as two: a fade of 40 characters
/// costs some 18, a line in other words some 30; a paragraph in place of another costs more.
const MOST_FALL: f32 = 30.0;

/// The stretches of a way along which the score rises, `scores` holding for each match what it
/// and the gap before it add. Between them a way goes through what does not belong together.
pub(crate) fn rising<'a>(way: &'a [Cell], scores: &[f32]) -> Vec<&'a [Cell]> {
    let mut found = Vec::new();
    let (mut begin, mut sum) = (0, 0.0f32);
    let (mut top, mut highest) = (0, 0.0f32);
    for (at, score) in scores.iter().enumerate() {
        sum += score;
        if sum > highest {
            (top, highest) = (at, sum);
        }
        let fallen = highest - sum > MOST_FALL;
        if fallen && highest > 0.0 {
            found.push(&way[begin..=top]);
        }
        if fallen || sum <= 0.0 && highest <= 0.0 {
            (begin, sum, highest) = (at + 1, 0.0, 0.0);
        }
    }
    if highest > 0.0 {
        found.push(&way[begin..=top]);
    }
    found
}

/// Matches on either side of a gap must be so many times its length.
const WORTH: usize = 2;
/// Matches that are more than a word or two in common.
const WORDS: usize = 12;

/// The parts of a way between gaps that only a word or two in common bridge: what stands beside
/// such a gap is of different texts, and would be woven into one.
pub(crate) fn parts(way: &[Cell]) -> Vec<&[Cell]> {
    let gap = |at: usize| {
        let (a, b) = (&way[at - 1], &way[at]);
        (b.row - a.row - 1, b.column - a.column - 1)
    };
    let bridged = |at: &usize| {
        let (side, (extra, missing)) = (*at.min(&(way.len() - at)), gap(*at));
        // What one of them lost alone, as in a fade, weaves nothing.
        let woven = if side >= WORDS {
            2 * extra.min(missing)
        } else {
            extra + missing
        };
        side >= WORTH * woven
    };
    let widest = (1..way.len())
        .filter(|at| !bridged(at))
        .max_by_key(|at| gap(*at).0 + gap(*at).1);
    match widest {
        None => vec![way],
        Some(at) => [parts(&way[..at]), parts(&way[at..])].concat(),
    }
}

/// The highest of what stands before a place (a binary indexed tree).
struct Highest(Vec<(f32, Option<usize>)>);

impl Highest {
    fn new(places: usize) -> Self {
        Self(vec![(0.0, None); places + 1])
    }

    fn raise(&mut self, place: usize, to: f32, name: usize) {
        let mut at = place;
        while at < self.0.len() {
            if to > self.0[at].0 {
                self.0[at] = (to, Some(name));
            }
            at += at & at.wrapping_neg();
        }
    }

    /// Of all places below `place`; places count from 1.
    fn below(&self, place: usize) -> (f32, Option<usize>) {
        let mut highest = (0.0, None);
        let mut at = place - 1;
        while at > 0 {
            if self.0[at].0 > highest.0 {
                highest = self.0[at];
            }
            at -= at & at.wrapping_neg();
        }
        highest
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell((row, column, weight): (usize, usize, f32)) -> Cell {
        Cell {
            row,
            column,
            weight,
            same: 1.0,
        }
    }

    #[test]
    fn the_heaviest_way_is_found() {
        let cells: Vec<Cell> = [
            (0, 0, 0.9),
            (1, 1, 0.5),
            (1, 2, 0.45),
            (2, 2, 0.4),
            (3, 1, 0.9),
            (3, 9, 0.15),
            (4, 3, 0.8),
        ]
        .map(cell)
        .into();
        let pairs: Vec<(usize, usize)> = way(&cells).iter().map(|c| (c.row, c.column)).collect();
        // 0.3 + 0.2 for (1, 1) and (2, 2) are less than 0.7 for (3, 1) alone.
        assert_eq!(pairs, [(0, 0), (3, 1), (4, 3)]);
        assert!(way(&[]).is_empty());
    }

    #[test]
    fn a_way_that_falls_deep_is_two() {
        let all: Vec<Cell> = (0..90).map(|k| cell((k, k, 1.0))).collect();
        let scores: Vec<f32> = (0..90)
            .map(|k| if (30..60).contains(&k) { -2.0 } else { 3.0 })
            .collect();
        assert_eq!(rising(&all, &scores), [&all[..30], &all[60..]]);
        let shallow: Vec<f32> = scores.iter().map(|s| s.max(-0.5)).collect();
        assert_eq!(rising(&all, &shallow), [&all[..]]);
        assert!(rising(&all, &[-1.0; 90]).is_empty());
    }

    #[test]
    fn a_word_beyond_a_gap_stands_apart() {
        let row = |from: usize, count: usize| (from..from + count).map(|k| cell((k, k, 1.0)));
        let all: Vec<Cell> = row(0, 6).chain(row(12, 40)).chain(row(53, 9)).collect();
        assert_eq!(parts(&all), [&all[..6], &all[6..]]);
        assert_eq!(parts(&all[..1]), [&all[..1]]);
        // Forty lost in a fade.
        let after = |c: Cell| Cell {
            column: c.column + 40,
            ..c
        };
        let faded: Vec<Cell> = row(0, 40).chain(row(40, 30).map(after)).collect();
        assert_eq!(parts(&faded).len(), 1);
    }
}
