//! What is aligned with what, and the odds of every step.

use crate::rates::{LOST, LOST_ON, differ};
use crate::shares::Shares;

/// Odds of beginning (and of ending) at any one cell, and where one of the two begins or ends.
const BEGIN: f32 = 1e-3;
const BEGIN_AT_EDGE: f32 = 0.1;

/// A slot of the copy.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// How much likelier the slot is if a code was sent than if any was.
    pub odds: Shares,
    /// That anything was sent.
    pub present: f32,
    pub figures: f32,
}

/// A place of the rest.
#[derive(Clone, Debug)]
pub(crate) struct Place {
    /// Probability of each code.
    pub codes: Shares,
    /// That it exists.
    pub present: f32,
    pub figures: f32,
}

/// What is aligned with what.
pub(crate) struct Sides<'a> {
    pub rows: &'a [Row],
    pub places: &'a [Place],
    /// Rows and places that are aligned already, elsewhere.
    pub taken_rows: &'a [bool],
    pub taken_places: &'a [bool],
}

/// A match that is possible.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cell {
    pub row: usize,
    pub column: usize,
    /// Probability that they are the same place of the bulletin, in the same words or not.
    pub weight: f32,
    /// How much of it is for the same code.
    pub same: f32,
}

impl Sides<'_> {
    /// Odds of a code in common, over chance.
    pub fn odds(&self, row: usize, column: usize) -> f32 {
        dot(&self.rows[row].odds, &self.places[column].codes)
    }

    /// Odds of a match, and how much of them is for the same code.
    pub fn matched(&self, row: usize, column: usize) -> (f32, f32) {
        if self.taken_rows[row] || self.taken_places[column] {
            return (0.0, 0.0);
        }
        let (r, p) = (&self.rows[row], &self.places[column]);
        let differs = differ((r.figures + p.figures) / 2.0);
        let same = (1.0 - differs) * self.odds(row, column);
        let all = same + differs;
        (r.present * p.present * all, same / all)
    }

    /// Odds of an extra slot, first of a run and further.
    pub fn extra(&self, row: usize) -> [f32; 2] {
        gaps(self.rows[row].present)
    }

    /// Odds of a missing place, first of a run and further.
    pub fn missing(&self, column: usize) -> [f32; 2] {
        gaps(self.places[column].present)
    }

    /// Logarithm of the odds that each match of a way and the gap before it add.
    pub fn scores(&self, way: &[Cell]) -> Vec<f32> {
        let run = |count: usize, gaps: [f32; 2]| match count {
            0 => 0.0,
            n => gaps[0].ln() + (n - 1) as f32 * gaps[1].ln(),
        };
        let score = |at: usize| {
            let cell = way[at];
            let gap = at.checked_sub(1).map_or(0.0, |before| {
                let before = way[before];
                let [extra, missing] = [cell.row - before.row - 1, cell.column - before.column - 1];
                run(extra, gaps(1.0)) + run(missing, gaps(1.0))
            });
            gap + self.matched(cell.row, cell.column).0.ln()
        };
        (0..way.len()).map(score).collect()
    }

    /// Odds of a way that begins, or ends, so many rows and columns from the end of either.
    pub fn begin(rows: usize, columns: usize) -> f32 {
        match rows.min(columns) {
            0 => BEGIN_AT_EDGE,
            _ => BEGIN,
        }
    }

    /// Odds of beginning at a cell.
    pub fn begins(&self, row: usize, column: usize) -> f32 {
        Self::begin(row, column)
    }

    /// Odds of ending at a cell.
    pub fn ends(&self, row: usize, column: usize) -> f32 {
        Self::begin(self.rows.len() - 1 - row, self.places.len() - 1 - column)
    }
}

/// Going on with a match after a match, and after a run of extra or missing.
pub(crate) const ON: f32 = 1.0 - 2.0 * LOST;
pub(crate) const BACK: f32 = 1.0 - LOST_ON;

fn gaps(present: f32) -> [f32; 2] {
    [LOST, LOST_ON].map(|p| present * p + (1.0 - present))
}

fn dot(a: &Shares, b: &Shares) -> f32 {
    // Eight sums side by side, which the compiler makes into vectors.
    let mut sums = [0.0f32; 8];
    for (a, b) in a.as_chunks::<8>().0.iter().zip(b.as_chunks::<8>().0) {
        for k in 0..8 {
            sums[k] += a[k] * b[k];
        }
    }
    sums.iter().sum()
}
