//! Which slot of a copy is which place of the rest: all ways at once, within a band.
//!
//! Three things happen on the way along a copy (rows) and the rest (columns):
//!
//! ```text
//!   match     slot and place are one character:  row + 1, column + 1
//!   extra     a slot that nobody sent:           row + 1
//!   missing   a place that the copy lost:                 column + 1
//! ```
//!
//! Everything is in odds over chance: a match counts by what both say of all 32 codes,
//! `sum over c of rest[c] * odds[c]`, with a share for places that differ on purpose; first
//! and further slots of a run of extra or missing ones count by [`crate::rates`], less where
//! slot or place are unlikely to be there at all. A way may begin and end anywhere. Forward
//! and backward sums give the probability of every match; rows are scaled so that no number
//! of characters is too many.

use std::ops::Range;

use crate::sides::{BACK, Cell, ON, Sides};

/// Cells less likely matched than this are passed over.
const LEAST_WEIGHT: f32 = 1e-3;

/// For each row from `first` on the columns to look at.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Band {
    pub first: usize,
    pub columns: Vec<Range<usize>>,
}

/// How two sequences go together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Alignment {
    /// Natural logarithm of the odds over chance, all ways together.
    pub score: f32,
    /// Matches that are not negligible, by row, then by column.
    pub cells: Vec<Cell>,
}

/// Sums of all ways up to (or from) a cell that pass it as match, extra or missing.
type Sums = [f32; 3];
const NOTHING: Sums = [0.0; 3];

/// One row of sums over its columns.
struct Line<'a> {
    columns: &'a Range<usize>,
    sums: &'a [Sums],
}

impl Line<'_> {
    fn at(&self, column: Option<usize>) -> Sums {
        match column {
            Some(c) if self.columns.contains(&c) => self.sums[c - self.columns.start],
            _ => NOTHING,
        }
    }
}

/// Aligns within a band.
pub(crate) fn align(sides: &Sides, band: &Band) -> Alignment {
    let matched: Vec<Vec<(f32, f32)>> = band
        .columns
        .iter()
        .enumerate()
        .map(|(k, columns)| {
            columns
                .clone()
                .map(|j| sides.matched(band.first + k, j))
                .collect()
        })
        .collect();
    let walk = Walk {
        sides,
        band,
        matched,
    };
    let (forward, scales) = walk.forward();
    let score = walk.score(&forward, &scales);
    if !score.is_finite() {
        return Alignment {
            score: f32::NEG_INFINITY,
            cells: Vec::new(),
        };
    }
    let cells = walk.cells(&forward, &scales, score);
    Alignment {
        score: score as f32,
        cells,
    }
}

struct Walk<'a> {
    sides: &'a Sides<'a>,
    band: &'a Band,
    /// Odds of a match, and the share of the same code, of every cell of the band.
    matched: Vec<Vec<(f32, f32)>>,
}

impl Walk<'_> {
    /// Scaled forward sums, and for each row the logarithm of what they are to be multiplied by.
    fn forward(&self) -> (Vec<Vec<Sums>>, Vec<f64>) {
        let mut all: Vec<Vec<Sums>> = Vec::with_capacity(self.band.columns.len());
        let mut scales = Vec::with_capacity(self.band.columns.len());
        let mut scale = 0.0f64;
        for k in 0..self.band.columns.len() {
            let mut sums =
                self.forward_row(k, all.last().map(Vec::as_slice), (-scale).exp() as f32);
            let most = sums.iter().flatten().fold(0.0f32, |a, b| a.max(*b));
            if most > 0.0 {
                scale += f64::from(most).ln();
                sums.iter_mut().flatten().for_each(|s| *s /= most);
            }
            all.push(sums);
            scales.push(scale);
        }
        (all, scales)
    }

    fn forward_row(&self, k: usize, before: Option<&[Sums]>, begin: f32) -> Vec<Sums> {
        let (row, columns) = (self.band.first + k, &self.band.columns[k]);
        let before = Line {
            columns: &self.band.columns[k.saturating_sub(1)],
            sums: before.unwrap_or_default(),
        };
        let before_at = |column| if k == 0 { NOTHING } else { before.at(column) };
        let extra = self.sides.extra(row);
        let mut left = NOTHING;
        let mut sums = Vec::with_capacity(columns.len());
        for column in columns.clone() {
            let [m, x, d] = before_at(column.checked_sub(1));
            let begins = begin * self.sides.begins(row, column);
            let matched = self.matched[k][column - columns.start].0;
            let [above_m, above_x, _] = before_at(Some(column));
            let missing = self.sides.missing(column);
            let here = [
                matched * (ON * m + BACK * (x + d) + begins),
                extra[0] * above_m + extra[1] * above_x,
                missing[0] * (left[0] + left[1]) + missing[1] * left[2],
            ];
            sums.push(here);
            left = here;
        }
        sums
    }

    /// Logarithm of the odds of all ways.
    fn score(&self, forward: &[Vec<Sums>], scales: &[f64]) -> f64 {
        let ends = |k: usize| -> f64 {
            let row = self.band.first + k;
            let of = |(at, sums): (usize, &Sums)| {
                f64::from(sums[0] * self.sides.ends(row, self.band.columns[k].start + at))
            };
            forward[k].iter().enumerate().map(of).sum()
        };
        let all: Vec<f64> = (0..forward.len())
            .map(|k| ends(k).ln() + scales[k])
            .collect();
        let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most + all.iter().map(|a| (a - most).exp()).sum::<f64>().ln()
    }

    /// Goes back from the end and weighs every match.
    fn cells(&self, forward: &[Vec<Sums>], scales: &[f64], score: f64) -> Vec<Cell> {
        let mut cells = Vec::new();
        let mut after: Vec<Sums> = Vec::new();
        for k in (0..forward.len()).rev() {
            let next = scales
                .get(k + 1)
                .map_or(0.0, |s| (scales[k] - s).exp() as f32);
            let end = (scales[k] - score).exp() as f32;
            let sums = self.backward_row(k, &after, next, end);
            let start = self.band.columns[k].start;
            for at in (0..sums.len()).rev() {
                let weight = forward[k][at][0] * sums[at][0];
                if weight > LEAST_WEIGHT {
                    let (row, column) = (self.band.first + k, start + at);
                    let same = self.matched[k][at].1;
                    cells.push(Cell {
                        row,
                        column,
                        weight: weight.min(1.0),
                        same,
                    });
                }
            }
            after = sums;
        }
        cells.reverse();
        cells
    }

    fn backward_row(&self, k: usize, after: &[Sums], next: f32, end: f32) -> Vec<Sums> {
        let (row, columns) = (self.band.first + k, &self.band.columns[k]);
        let below = self.band.columns.get(k + 1);
        let below_at = |column: usize| match below {
            Some(columns) => Line {
                columns,
                sums: after,
            }
            .at(Some(column)),
            None => NOTHING,
        };
        let matched_below = |column: usize| match below {
            Some(columns) if columns.contains(&column) => {
                self.matched[k + 1][column - columns.start].0
            }
            _ => 0.0,
        };
        let extra = below.map_or([0.0; 2], |_| self.sides.extra(row + 1));
        let mut sums = vec![NOTHING; columns.len()];
        let mut right = NOTHING;
        for column in columns.clone().rev() {
            let m = next * matched_below(column + 1) * below_at(column + 1)[0];
            let x = next * below_at(column)[1];
            let d = right[2];
            let missing = match column + 1 < columns.end {
                true => self.sides.missing(column + 1),
                false => [0.0; 2],
            };
            let here = [
                end * self.sides.ends(row, column) + ON * m + extra[0] * x + missing[0] * d,
                BACK * m + extra[1] * x + missing[0] * d,
                BACK * m + missing[1] * d,
            ];
            sums[column - columns.start] = here;
            right = here;
        }
        sums
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::full;
    use crate::full::tests::{Made, made, whole};
    use proptest::prelude::*;

    fn free(made: &Made) -> (Vec<bool>, Vec<bool>) {
        (vec![false; made.rows.len()], vec![false; made.places.len()])
    }

    fn near(a: &[Cell], b: &[Cell], least: f32) {
        let of = |cells: &[Cell], row, column| {
            let found = cells.iter().find(|c| (c.row, c.column) == (row, column));
            found.map_or(0.0, |c| c.weight)
        };
        for cell in a.iter().chain(b) {
            let [x, y] = [a, b].map(|cells| of(cells, cell.row, cell.column));
            assert!((x - y).abs() < least, "{cell:?}: {x} and {y}");
        }
    }

    #[test]
    fn known_answers() {
        // Two certain copies of ABCDEF, one without D: everything is matched but D.
        let made = made(&[3, 25, 14, 1, 13], &[3, 25, 14, 9, 1, 13], 0.999);
        let (rows, places) = free(&made);
        let found = align(&made.sides(&rows, &places), &whole(5, 6));
        let pairs: Vec<(usize, usize)> = found
            .cells
            .iter()
            .filter(|c| c.weight > 0.5)
            .map(|c| (c.row, c.column))
            .collect();
        assert_eq!(pairs, [(0, 0), (1, 1), (2, 2), (3, 4), (4, 5)]);
        assert!(found.cells[0].weight > 0.98 && found.cells[0].same > 0.99);
    }

    #[test]
    fn what_is_taken_is_matched_no_more() {
        let made = made(&[3, 25, 14], &[3, 25, 14], 0.999);
        let (rows, mut places) = free(&made);
        places[1] = true;
        let found = align(&made.sides(&rows, &places), &whole(3, 3));
        assert!(found.cells.iter().all(|c| c.column != 1));
        let all = vec![true; 3];
        let none = align(&made.sides(&rows, &all), &whole(3, 3));
        assert!(none.cells.is_empty() && none.score == f32::NEG_INFINITY);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn a_band_of_everything_is_the_full_matrix(
            a in proptest::collection::vec(0..32usize, 1..24),
            b in proptest::collection::vec(0..32usize, 1..24),
            sure in 0.05..0.9999f32,
        ) {
            let made = made(&a, &b, sure);
            let (rows, places) = free(&made);
            let sides = made.sides(&rows, &places);
            let fast = align(&sides, &whole(a.len(), b.len()));
            let slow = full::align(&sides);
            prop_assert!((fast.score - slow.score).abs() < 1e-3, "{} {}", fast.score, slow.score);
            near(&fast.cells, &slow.cells, 2e-3);
        }

        #[test]
        fn a_band_around_the_truth_is_enough(
            a in proptest::collection::vec(0..32usize, 60..90),
            lost in proptest::collection::vec(any::<proptest::sample::Index>(), 0..5),
            sure in 0.5..0.99f32,
        ) {
            let mut b = a.clone();
            for index in lost {
                b.remove(index.index(b.len()));
            }
            let made = made(&a, &b, sure);
            let (rows, places) = free(&made);
            let sides = made.sides(&rows, &places);
            let columns = (0..a.len()).map(|i| i.saturating_sub(16)..(i + 8).min(b.len()));
            let columns = columns.map(|c| c.start.min(c.end)..c.end).collect();
            let fast = align(&sides, &Band { first: 0, columns });
            near(&fast.cells, &full::align(&sides).cells, 1e-2);
        }
    }
}
