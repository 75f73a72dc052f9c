//! Phase tables: how likely each pair of phases of the two tones is.
//!
//! `N` phases of mark by `N` of space, `2 pi j / N` radians. With `N = 1` there is no
//! phase, and what stands on a table is a plain probability: the same walk then is the
//! non-coherent receiver.

use std::f32::consts::TAU;

use crate::characters::log_sum::NEVER;

/// A non-negative function of mark's phase (first index) and space's (second), with its
/// scale: the value at `(i, j)` is `cells[i][j] * exp(ln)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Table<const N: usize> {
    /// The function, in units of `exp(ln)`.
    pub cells: [[f32; N]; N],
    /// Natural logarithm of the unit.
    pub ln: f32,
}

impl<const N: usize> Table<N> {
    /// Nothing anywhere.
    pub fn empty() -> Self {
        Self {
            cells: [[0.0; N]; N],
            ln: NEVER,
        }
    }

    /// The same value everywhere.
    pub fn flat(value: f32, ln: f32) -> Self {
        Self {
            cells: [[value; N]; N],
            ln,
        }
    }

    /// Sum of all cells, in units of `exp(ln)`.
    pub fn total(&self) -> f32 {
        // Column by column first: sixteen sums side by side.
        let mut sums = [0.0; N];
        for row in &self.cells {
            sums.iter_mut().zip(row).for_each(|(s, c)| *s += c);
        }
        sums.iter().sum()
    }

    /// Natural logarithm of the sum of all values.
    pub fn ln_total(&self) -> f32 {
        let total = self.total();
        if total > 0.0 {
            self.ln + total.ln()
        } else {
            NEVER
        }
    }

    /// Moves the unit so that the cells add up to 1.
    pub fn normalise(&mut self) {
        let total = self.total();
        if total > 0.0 {
            let by = 1.0 / total;
            self.cells.iter_mut().flatten().for_each(|c| *c *= by);
            self.ln += total.ln();
        } else {
            *self = Self::empty();
        }
    }

    /// Adds another table times `exp(ln)`.
    pub fn add(&mut self, other: &Self, ln: f32) {
        let other_ln = other.ln + ln;
        if other_ln < self.ln - 40.0 {
            return;
        }
        if self.ln < other_ln - 40.0 {
            *self = Self {
                ln: other_ln,
                ..*other
            };
            return;
        }
        let (keep, take) = if other_ln > self.ln {
            ((self.ln - other_ln).exp(), 1.0)
        } else {
            (1.0, (other_ln - self.ln).exp())
        };
        self.ln = self.ln.max(other_ln);
        for (row, other) in self.cells.iter_mut().zip(&other.cells) {
            for (c, o) in row.iter_mut().zip(other) {
                *c = *c * keep + *o * take;
            }
        }
    }

    /// Multiplies by a function of mark's phase.
    pub fn times_mark(&mut self, by: &[f32; N]) {
        for (row, by) in self.cells.iter_mut().zip(by) {
            row.iter_mut().for_each(|c| *c *= by);
        }
    }

    /// Multiplies by a function of space's phase.
    pub fn times_space(&mut self, by: &[f32; N]) {
        for row in &mut self.cells {
            row.iter_mut().zip(by).for_each(|(c, by)| *c *= by);
        }
    }

    /// Sum over all cells of the product with another table, cells only.
    pub fn dot(&self, other: &Self) -> f32 {
        let mut sums = [0.0; N];
        for (a, b) in self.cells.iter().zip(&other.cells) {
            for (s, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
                *s += a * b;
            }
        }
        sums.iter().sum()
    }

    /// Moves and spreads mark's phase.
    pub fn turn_mark(&mut self, turn: &Turn) {
        if N == 1 || turn.is_still() {
            return;
        }
        let from = self.cells;
        for (i, row) in self.cells.iter_mut().enumerate() {
            let mut sum = [0.0; N];
            for (t, &weight) in turn.taps().iter().enumerate() {
                let k = (i + 2 * N - turn.first - t) % N;
                for (s, f) in sum.iter_mut().zip(&from[k]) {
                    *s += weight * f;
                }
            }
            *row = sum;
        }
    }

    /// Moves and spreads space's phase.
    pub fn turn_space(&mut self, turn: &Turn) {
        if N == 1 || turn.is_still() {
            return;
        }
        let mut from = [[0.0f32; N]; 2];
        for row in &mut self.cells {
            from[0] = *row;
            from[1] = *row;
            let line = from.as_flattened();
            let mut sum = [0.0; N];
            for (t, &weight) in turn.taps().iter().enumerate() {
                let low = (2 * N - turn.first - t) % N;
                for (s, f) in sum.iter_mut().zip(&line[low..low + N]) {
                    *s += weight * f;
                }
            }
            *row = sum;
        }
    }
}

/// Most weights of a turn.
const TAPS: usize = 16;

/// A phase that moves by an angle, more or less: weights of neighbouring whole steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    first: usize,
    weights: [f32; TAPS],
    count: usize,
}

impl Turn {
    /// A turn by `angle` radians with standard deviation `spread` radians, among `phases`
    /// phases. Mean and, as far as the grid can, variance are kept exactly.
    pub fn new(angle: f32, spread: f32, phases: usize) -> Self {
        let step = TAU / phases as f32;
        let (mean, variance) = (angle / step, (spread / step).powi(2));
        if variance < 0.6 {
            Self::narrow(mean, variance, phases)
        } else {
            Self::bell(mean, variance, phases)
        }
    }

    /// No turn at all.
    pub fn still() -> Self {
        Self {
            first: 0,
            weights: [0.0; TAPS],
            count: 0,
        }
    }

    fn of(low: f32, taps: &[f32], phases: usize) -> Self {
        let mut weights = [0.0; TAPS];
        weights[..taps.len()].copy_from_slice(taps);
        Self {
            first: (low as i32).rem_euclid(phases as i32) as usize,
            weights,
            count: taps.len(),
        }
    }

    /// Up to four weights with the given mean and variance (steps), the latter at least
    /// what the grid's coarseness makes of it.
    fn narrow(mean: f32, variance: f32, phases: usize) -> Self {
        let nearest = mean.round();
        let f = mean - nearest;
        let second = variance + f * f;
        if second <= 0.5 && second >= f.abs() {
            let taps = [(second - f) / 2.0, 1.0 - second, (second + f) / 2.0];
            return Self::of(nearest - 1.0, &taps, phases);
        }
        // Two-point weights, blurred by a three-point kernel.
        let low = mean.floor();
        let b = mean - low;
        let a = 1.0 - b;
        let e = ((variance - a * b) / 2.0).max(0.0);
        if e == 0.0 {
            return Self::of(low, &[a, b], phases);
        }
        let middle = 1.0 - 2.0 * e;
        let taps = [a * e, a * middle + b * e, b * middle + a * e, b * e];
        Self::of(low - 1.0, &taps, phases)
    }

    fn bell(mean: f32, variance: f32, phases: usize) -> Self {
        let half = (2.6 * variance.sqrt()).ceil();
        let count = (2 * half as usize + 1).min(phases).min(TAPS);
        let low = mean.round() - (count / 2) as f32;
        let weight = |t: usize| {
            // All windings of the circle that matter.
            let d = low + t as f32 - mean;
            let winding = |w: f32| (-(d + w).powi(2) / (2.0 * variance)).exp();
            let n = phases as f32;
            winding(0.0) + winding(n) + winding(-n)
        };
        let mut taps = [0.0; TAPS];
        (0..count).for_each(|t| taps[t] = weight(t));
        let total: f32 = taps.iter().sum();
        taps.iter_mut().for_each(|w| *w /= total);
        Self::of(low, &taps[..count], phases)
    }

    /// The same turn backwards, with the same spread.
    pub fn back(&self, phases: usize) -> Self {
        if self.is_still() {
            return *self;
        }
        let last = self.first + self.count - 1;
        let mut weights = [0.0; TAPS];
        for (to, from) in weights.iter_mut().zip(self.taps().iter().rev()) {
            *to = *from;
        }
        Self {
            first: (phases - last % phases) % phases,
            weights,
            count: self.count,
        }
    }

    fn is_still(&self) -> bool {
        self.count == 0
    }

    fn taps(&self) -> &[f32] {
        &self.weights[..self.count]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_keeps_its_mean_and_spread() {
        for (angle, spread) in [(0.3, 0.1), (-1.65, 0.2), (2.0, 0.5), (0.0, 0.1), (7.0, 0.2)] {
            let mut table = Table::<16>::empty();
            table.ln = 0.0;
            table.cells[3][5] = 1.0;
            let before = table;
            let turn = Turn::new(angle, spread, 16);
            table.turn_space(&turn);
            let (mut x, mut y) = (0.0, 0.0);
            for (j, c) in table.cells[3].iter().enumerate() {
                x += c * (TAU * j as f32 / 16.0).cos();
                y += c * (TAU * j as f32 / 16.0).sin();
            }
            let mean = f32::atan2(y, x) - TAU * 5.0 / 16.0;
            let off = (mean - angle).rem_euclid(TAU);
            assert!(off.min(TAU - off) < 0.02, "{angle}: {mean}");
            let expected = (-spread * spread / 2.0).exp();
            let length = x.hypot(y);
            assert!(
                length < expected + 0.01 && length > expected - 0.03,
                "{angle} {spread}: {length}"
            );
            table.turn_space(&turn.back(16));
            let mut other = before;
            other.turn_mark(&turn);
            other.turn_mark(&turn.back(16));
            assert!(
                (table.cells[3][5] - other.cells[3][5]).abs() < 1e-6,
                "mark and space turn alike"
            );
            assert!((table.total() - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn back_is_the_transpose() {
        let mut a = Table::<16>::flat(0.0, 0.0);
        let mut b = a;
        for i in 0..16 {
            for j in 0..16 {
                a.cells[i][j] = ((i * 7 + j * 3) % 11) as f32;
                b.cells[i][j] = ((i * 5 + j * 13) % 17) as f32;
            }
        }
        for (angle, spread) in [(0.4, 0.1), (-2.2, 0.3), (1.0, 0.9)] {
            let turn = Turn::new(angle, spread, 16);
            let (mut forward, mut backward) = (a, b);
            forward.turn_mark(&turn);
            forward.turn_space(&turn);
            backward.turn_mark(&turn.back(16));
            backward.turn_space(&turn.back(16));
            let (x, y) = (forward.dot(&b), a.dot(&backward));
            assert!((x / y - 1.0).abs() < 1e-4, "{x} {y}");
        }
    }

    #[test]
    fn sums_of_tables_keep_their_scales() {
        let mut a = Table::<2>::flat(1.0, 3.0);
        a.add(&Table::flat(2.0, 1.0), 0.5);
        let expected = (4.0 * 3.0f32.exp() + 8.0 * 1.5f32.exp()).ln();
        assert!((a.ln_total() - expected).abs() < 1e-5);
        a.normalise();
        assert!((a.ln_total() - expected).abs() < 1e-5);
    }
}
