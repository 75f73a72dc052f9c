//! The slow way: the whole matrix, in logarithms, cell by cell; what the band is held against.

use crate::align::Alignment;
use crate::sides::{BACK, Cell, ON, Sides};

/// Sums over all ways, as logarithms, of match, extra and missing.
type Sums = [f64; 3];
const NONE: f64 = f64::NEG_INFINITY;

fn add(all: &[f64]) -> f64 {
    let most = all.iter().copied().fold(NONE, f64::max);
    match most == NONE {
        true => NONE,
        false => most + all.iter().map(|a| (a - most).exp()).sum::<f64>().ln(),
    }
}

fn ln(x: f32) -> f64 {
    f64::from(x).ln()
}

/// Aligns all with all.
pub(crate) fn align(sides: &Sides) -> Alignment {
    let (n, m) = (sides.rows.len(), sides.places.len());
    let forward = forward(sides);
    let backward = backward(sides);
    let cells = || (0..n).flat_map(|i| (0..m).map(move |j| (i, j)));
    let ends: Vec<f64> = cells()
        .map(|(i, j)| forward[i][j][0] + ln(sides.ends(i, j)))
        .collect();
    let score = add(&ends);
    let weigh = |(row, column): (usize, usize)| {
        let weight = (forward[row][column][0] + backward[row][column][0] - score).exp() as f32;
        let same = sides.matched(row, column).1;
        Cell {
            row,
            column,
            weight,
            same,
        }
    };
    Alignment {
        score: score as f32,
        cells: cells().map(weigh).filter(|c| c.weight > 1e-3).collect(),
    }
}

fn forward(sides: &Sides) -> Vec<Vec<Sums>> {
    let (n, m) = (sides.rows.len(), sides.places.len());
    let mut f = vec![vec![[NONE; 3]; m]; n];
    for i in 0..n {
        for j in 0..m {
            let at = |i: Option<usize>, j: Option<usize>| match (i, j) {
                (Some(i), Some(j)) => f[i][j],
                _ => [NONE; 3],
            };
            let slant = at(i.checked_sub(1), j.checked_sub(1));
            let above = at(i.checked_sub(1), Some(j));
            let left = at(Some(i), j.checked_sub(1));
            let (extra, missing) = (sides.extra(i), sides.missing(j));
            let to_match = [
                slant[0] + ln(ON),
                slant[1] + ln(BACK),
                slant[2] + ln(BACK),
                ln(sides.begins(i, j)),
            ];
            f[i][j] = [
                ln(sides.matched(i, j).0) + add(&to_match),
                add(&[above[0] + ln(extra[0]), above[1] + ln(extra[1])]),
                add(&[
                    left[0] + ln(missing[0]),
                    left[1] + ln(missing[0]),
                    left[2] + ln(missing[1]),
                ]),
            ];
        }
    }
    f
}

fn backward(sides: &Sides) -> Vec<Vec<Sums>> {
    let (n, m) = (sides.rows.len(), sides.places.len());
    let mut b = vec![vec![[NONE; 3]; m]; n];
    for i in (0..n).rev() {
        for j in (0..m).rev() {
            let slant = match i + 1 < n && j + 1 < m {
                true => b[i + 1][j + 1][0] + ln(sides.matched(i + 1, j + 1).0),
                false => NONE,
            };
            let below = |k: usize| match i + 1 < n {
                true => b[i + 1][j][1] + ln(sides.extra(i + 1)[k]),
                false => NONE,
            };
            let right = |k: usize| match j + 1 < m {
                true => b[i][j + 1][2] + ln(sides.missing(j + 1)[k]),
                false => NONE,
            };
            b[i][j] = [
                add(&[ln(sides.ends(i, j)), slant + ln(ON), below(0), right(0)]),
                add(&[slant + ln(BACK), below(1), right(0)]),
                add(&[slant + ln(BACK), right(1)]),
            ];
        }
    }
    b
}

pub(crate) mod tests {
    use crate::align::Band;
    use crate::sides::{Place, Row, Sides};

    /// Rows and places for tests.
    pub(crate) struct Made {
        pub rows: Vec<Row>,
        pub places: Vec<Place>,
    }

    impl Made {
        pub fn sides<'a>(&'a self, rows: &'a [bool], places: &'a [bool]) -> Sides<'a> {
            Sides {
                rows: &self.rows,
                places: &self.places,
                taken_rows: rows,
                taken_places: places,
            }
        }
    }

    fn shares(code: usize, sure: f32) -> [f32; 32] {
        let mut shares = [(1.0 - sure) / 31.0; 32];
        shares[code] = sure;
        shares
    }

    /// Both sides as sure of their codes.
    pub(crate) fn made(a: &[usize], b: &[usize], sure: f32) -> Made {
        let row = |code: &usize| Row {
            odds: shares(*code, sure).map(|p| 32.0 * p),
            present: 0.98,
            figures: 0.0,
        };
        let place = |code: &usize| Place {
            codes: shares(*code, sure),
            present: 0.97,
            figures: 0.2,
        };
        Made {
            rows: a.iter().map(row).collect(),
            places: b.iter().map(place).collect(),
        }
    }

    /// A band of everything.
    pub(crate) fn whole(rows: usize, columns: usize) -> Band {
        Band {
            first: 0,
            columns: vec![0..columns; rows],
        }
    }
}
