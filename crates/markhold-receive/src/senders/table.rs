//! Phase tables: how likely each pair of phases of the two tones is.
//!
//! `N` phases of mark by `N` of space, `2 pi j / N` radians. With `N = 1` there is no
//! phase, and what stands on a table is a plain probability: the same walk then is the
//! non-coherent receiver.

use std::f32::consts::TAU;

use pulp::Simd;

use crate::sums::log_sum::{NEVER, exp_fast, ln_fast};
use crate::sums::vectors;

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

    /// Moves the unit so that the cells add up to 1.
    #[inline(always)]
    pub fn normalise<S: Simd>(&mut self, simd: S) {
        let total = self.total(simd);
        if total > 0.0 {
            vectors::scale(simd, self.flat_mut(), 1.0 / total);
            self.ln += ln_fast(total.max(f32::MIN_POSITIVE));
        } else {
            *self = Self::empty();
        }
    }

    /// Sum of all cells, in units of `exp(ln)`.
    #[inline(always)]
    fn total<S: Simd>(&self, simd: S) -> f32 {
        vectors::sum(simd, self.cells.as_flattened())
    }

    #[inline(always)]
    fn flat_mut(&mut self) -> &mut [f32] {
        self.cells.as_flattened_mut()
    }

    /// Adds another table times `exp(ln)`.
    #[inline(always)]
    pub fn add<S: Simd>(&mut self, simd: S, other: &Self, ln: f32) {
        let other_ln = other.ln + ln;
        if other_ln < self.ln - 40.0 {
            return;
        }
        let highest = self.ln.max(other_ln);
        let (keep, take) = (exp_fast(self.ln - highest), exp_fast(other_ln - highest));
        self.ln = highest;
        vectors::blend(
            simd,
            self.flat_mut(),
            keep,
            other.cells.as_flattened(),
            take,
        );
    }

    /// Sum over all cells of the product with another table, cells only.
    #[inline(always)]
    pub fn dot<S: Simd>(&self, simd: S, other: &Self) -> f32 {
        vectors::dot(simd, self.cells.as_flattened(), other.cells.as_flattened())
    }

    /// Multiplies by a function of one phase (0 mark's, 1 space's).
    #[inline(always)]
    pub fn times<S: Simd>(&mut self, simd: S, tone: usize, by: &[f32; N]) {
        match tone {
            0 => {
                for (row, by) in self.cells.iter_mut().zip(by) {
                    vectors::scale(simd, row, *by);
                }
            }
            _ => {
                for row in &mut self.cells {
                    vectors::times(simd, row, by);
                }
            }
        }
    }

    /// Moves and spreads both phases.
    #[inline(always)]
    pub fn turn<S: Simd>(&mut self, simd: S, turns: &[Turn; 2]) {
        for (tone, turn) in turns.iter().enumerate() {
            if N > 1 {
                match turn.count {
                    0 => (),
                    1..=3 => self.spread::<S, 3>(simd, tone, turn),
                    4 => self.spread::<S, 4>(simd, tone, turn),
                    5..=7 => self.spread::<S, 7>(simd, tone, turn),
                    _ => self.spread::<S, TAPS>(simd, tone, turn),
                }
            }
        }
    }

    #[inline(always)]
    fn spread<S: Simd, const T: usize>(&mut self, simd: S, tone: usize, turn: &Turn) {
        let weights = std::array::from_fn(|t| turn.weights[t]);
        match tone {
            0 => self.spread_mark::<S, T>(simd, turn.first, weights),
            _ => self.spread_space::<S, T>(simd, turn.first, weights),
        }
    }

    #[inline(always)]
    fn spread_mark<S: Simd, const T: usize>(&mut self, simd: S, first: usize, weights: [f32; T]) {
        let from = self.cells;
        for (i, row) in self.cells.iter_mut().enumerate() {
            let from: [&[f32; N]; T] = std::array::from_fn(|t| &from[(i + 2 * N - first - t) % N]);
            vectors::weigh(simd, row, &from, &weights);
        }
    }

    #[inline(always)]
    fn spread_space<S: Simd, const T: usize>(&mut self, simd: S, first: usize, weights: [f32; T]) {
        // Each row twice in succession, so that no turn runs over its end; all rows before
        // the first is read, for a read must not wait for the writes that it spans.
        let mut twice = [[[0.0f32; N]; 2]; N];
        for (twice, row) in twice.iter_mut().zip(&self.cells) {
            *twice = [*row, *row];
        }
        for (row, twice) in self.cells.iter_mut().zip(&twice) {
            let from: [&[f32; N]; T] = std::array::from_fn(|t| {
                let low = (2 * N - first - t) % N;
                twice.as_flattened()[low..][..N]
                    .first_chunk()
                    .expect("N values")
            });
            vectors::weigh(simd, row, &from, &weights);
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
    use pulp::{Arch, WithSimd};

    /// Runs on this machine's own vectors.
    fn on_vectors<F: WithSimd>(f: F) -> F::Output {
        Arch::new().dispatch(f)
    }

    struct Turned<'a>(&'a mut Table<16>, [Turn; 2]);

    impl WithSimd for Turned<'_> {
        type Output = ();

        fn with_simd<S: Simd>(self, simd: S) {
            self.0.turn(simd, &self.1);
        }
    }

    fn turn_mark(table: &mut Table<16>, turn: &Turn) {
        on_vectors(Turned(table, [*turn, Turn::still()]));
    }

    fn turn_space(table: &mut Table<16>, turn: &Turn) {
        on_vectors(Turned(table, [Turn::still(), *turn]));
    }

    fn total(table: &Table<16>) -> f32 {
        table.cells.iter().flatten().sum()
    }

    fn dot(a: &Table<16>, b: &Table<16>) -> f32 {
        let pairs = a.cells.iter().flatten().zip(b.cells.iter().flatten());
        pairs.map(|(x, y)| x * y).sum()
    }

    fn some(seed: usize) -> Table<16> {
        let mut table = Table::flat(0.0, 0.0);
        for (i, row) in table.cells.iter_mut().enumerate() {
            for (j, c) in row.iter_mut().enumerate() {
                *c = ((i * (7 + seed) + j * (3 + 5 * seed)) % 11) as f32;
            }
        }
        table
    }

    #[test]
    fn a_turn_keeps_its_mean_and_spread() {
        for (angle, spread) in [(0.3, 0.1), (-1.65, 0.2), (2.0, 0.5), (0.0, 0.1), (7.0, 0.2)] {
            let mut table = Table::<16>::empty();
            table.ln = 0.0;
            table.cells[3][5] = 1.0;
            let before = table;
            let turn = Turn::new(angle, spread, 16);
            turn_space(&mut table, &turn);
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
            turn_space(&mut table, &turn.back(16));
            let mut other = before;
            turn_mark(&mut other, &turn);
            turn_mark(&mut other, &turn.back(16));
            assert!(
                (table.cells[3][5] - other.cells[3][5]).abs() < 1e-6,
                "mark and space turn alike"
            );
            assert!((total(&table) - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn turns_agree_with_the_plain_sum_over_weights() {
        // Spreads that need three, four, seven and more weights.
        for (angle, spread) in [
            (0.5, 0.0),
            (0.4, 0.25),
            (-2.2, 0.35),
            (1.0, 0.9),
            (3.0, 1.5),
        ] {
            let turn = Turn::new(angle, spread, 16);
            let before = some(2);
            let (mut marks, mut spaces) = (before, before);
            turn_mark(&mut marks, &turn);
            turn_space(&mut spaces, &turn);
            for i in 0..16 {
                for j in 0..16 {
                    let from = |k: usize, t: usize| (k + 32 - turn.first - t) % 16;
                    let taps = || turn.taps().iter().enumerate();
                    let mark: f32 = taps().map(|(t, w)| w * before.cells[from(i, t)][j]).sum();
                    let space: f32 = taps().map(|(t, w)| w * before.cells[i][from(j, t)]).sum();
                    assert!((marks.cells[i][j] - mark).abs() < 1e-4, "{angle} {spread}");
                    assert!(
                        (spaces.cells[i][j] - space).abs() < 1e-4,
                        "{angle} {spread}"
                    );
                }
            }
        }
    }

    #[test]
    fn back_is_the_transpose() {
        let (a, b) = (some(0), some(1));
        for (angle, spread) in [(0.4, 0.1), (-2.2, 0.3), (1.0, 0.9)] {
            let turn = Turn::new(angle, spread, 16);
            let (mut forward, mut backward) = (a, b);
            turn_mark(&mut forward, &turn);
            turn_space(&mut forward, &turn);
            turn_mark(&mut backward, &turn.back(16));
            turn_space(&mut backward, &turn.back(16));
            let (x, y) = (dot(&forward, &b), dot(&a, &backward));
            assert!((x / y - 1.0).abs() < 1e-4, "{x} {y}");
        }
    }

    struct Added<'a>(&'a mut Table<2>);

    impl WithSimd for Added<'_> {
        type Output = f32;

        fn with_simd<S: Simd>(self, simd: S) -> f32 {
            self.0.add(simd, &Table::flat(2.0, 1.0), 0.5);
            let ln = self.0.total(simd).ln() + self.0.ln;
            self.0.normalise(simd);
            ln
        }
    }

    #[test]
    fn sums_of_tables_keep_their_scales() {
        let mut a = Table::<2>::flat(1.0, 3.0);
        let ln_total = on_vectors(Added(&mut a));
        let expected = (4.0 * 3.0f32.exp() + 8.0 * 1.5f32.exp()).ln();
        assert!((ln_total - expected).abs() < 1e-5);
        assert!((a.cells.as_flattened().iter().sum::<f32>() - 1.0).abs() < 1e-5);
        assert!((a.ln - expected).abs() < 1e-5);
    }
}
