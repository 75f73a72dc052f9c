//! From probabilities of matches to one way through them.

use crate::align::Cell;

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

/// Matches that lie beyond a gap must be so many times its length.
const WORTH: usize = 2;

/// A way without ends that only a word or two in common holds beyond a longer gap: what stands
/// there is of different texts, and would be woven into one.
pub(crate) fn trimmed(way: &[Cell]) -> &[Cell] {
    let gap = |pair: &[Cell]| pair[1].row - pair[0].row - 1 + pair[1].column - pair[0].column - 1;
    let gaps: Vec<usize> = way.windows(2).map(gap).collect();
    let count = gaps.len();
    let first = (0..count).rev().find(|at| at + 1 < WORTH * gaps[*at]);
    let last = (0..count).find(|at| count - at < WORTH * gaps[*at]);
    let begin = first.map_or(0, |at| at + 1);
    let end = last.map_or(way.len(), |at| at + 1);
    &way[begin.min(end)..end]
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
    fn a_word_beyond_a_gap_is_cut_off() {
        let row = |from: usize, count: usize| (from..from + count).map(|k| cell((k, k, 1.0)));
        let all: Vec<Cell> = row(0, 6).chain(row(12, 40)).chain(row(53, 9)).collect();
        assert_eq!(trimmed(&all), &all[6..]);
        assert_eq!((trimmed(&all[..1]).len(), trimmed(&[]).len()), (1, 0));
    }
}
