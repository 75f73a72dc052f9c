//! The walk: all paths through a lattice under one sender model, forward and backward.
//!
//! A path is a sequence of starts, codes and phases. On every candidate stands a table
//! over the phases of both tones: how likely all that came before is (forward), and all
//! that comes after (backward). Their product is what is known of the character.

mod character;

use markhold_signal::Complex32;
use pulp::{Arch, Simd, WithSimd};

use super::heard::{Heard, Piece};
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::sound::{MARK, SPACE, direction};
use super::table::{Table, Turn};
use crate::sums::log_sum::{NEVER, add, ln_fast};
use character::{Branches, Later};

pub use character::{shares, tone_before};

/// What one model makes of a window.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// Log likelihood ratio of the window under the model against noise alone.
    pub evidence: f32,
    /// Probability of each candidate.
    pub present: Vec<f32>,
    /// Probability of each code, given the candidate.
    pub codes: Vec<[f32; 32]>,
    /// Mean of `exp(i phase)` of both tones where each candidate begins.
    pub phases: Vec<[Complex32; 2]>,
}

/// Least probability of the beginning of a code, given its candidate, to be followed up.
pub const LEAST_SHARE: f32 = 1e-4;
/// Least probability of a candidate whose codes are looked at.
pub const LEAST_PRESENT: f32 = 1e-4;
/// Fades deeper than this in power do not make a phase wander any faster.
const DEEPEST: f32 = 1.0 / 64.0;

/// Walks a lattice. With one phase, phases are not followed and the model's parameters do
/// not matter.
pub fn walk<const N: usize>(
    heard: &Heard<N>,
    lattice: &Lattice,
    model: &SenderModel,
    tuning: &Tuning,
) -> Walked {
    let all = vec![true; lattice.starts.len()];
    let walker = Walker::new(heard, lattice, &all, model, tuning);
    walker.forward(&walker.backward())
}

/// By tone sent, then by phase.
type Turns = [[Turn; 2]; 2];

/// Walks a lattice under one model: backward for its evidence, then forward for all else.
pub struct Walker<'a, const N: usize> {
    heard: &'a Heard<N>,
    lattice: &'a Lattice,
    some: &'a [bool],
    model: &'a SenderModel,
    tuning: &'a Tuning,
    /// Of each candidate's elements: forward and back.
    turns: Vec<(Turns, Turns)>,
    /// Where the line changes to each tone, forward and back; `None` if nothing turns there.
    changes: Option<(Turns, Turns)>,
}

/// All that follows each place of a lattice.
pub struct Backward<const N: usize> {
    /// Log likelihood ratio of the window under the model against noise alone.
    pub evidence: f32,
    /// From the end of each candidate's first stop unit on.
    ends: Vec<Table<N>>,
    later: Vec<Later<N>>,
}

struct BackwardOf<'a, 'b, const N: usize>(&'b Walker<'a, N>);

impl<const N: usize> WithSimd for BackwardOf<'_, '_, N> {
    type Output = Backward<N>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Backward<N> {
        self.0.backward_now(simd)
    }
}

struct ForwardOf<'a, 'b, const N: usize>(&'b Walker<'a, N>, &'b Backward<N>);

impl<const N: usize> WithSimd for ForwardOf<'_, '_, N> {
    type Output = Walked;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Walked {
        self.0.forward_now(simd, self.1)
    }
}

impl<'a, const N: usize> Walker<'a, N> {
    /// A walker through those candidates only that are marked with `true`.
    pub fn new(
        heard: &'a Heard<N>,
        lattice: &'a Lattice,
        some: &'a [bool],
        model: &'a SenderModel,
        tuning: &'a Tuning,
    ) -> Self {
        let mut walker = Self {
            heard,
            lattice,
            some,
            model,
            tuning,
            turns: Vec::new(),
            changes: None,
        };
        let turns = |(depth, &some): (&[f32; 2], &bool)| {
            if !some {
                return ([[Turn::still(); 2]; 2], [[Turn::still(); 2]; 2]);
            }
            let wander = depth.map(|d| model.wander / d.clamp(DEEPEST, 2.0).sqrt());
            let turns = [MARK, SPACE].map(|k| match N {
                1 => [Turn::still(); 2],
                _ => model.element_turns(tuning, k, wander, N),
            });
            (turns, turns.map(|t| t.map(|t| t.back(N))))
        };
        let changes = (N > 1).then(|| model.change_turns(tuning, N)).flatten();
        walker.changes = changes.map(|c| (c, c.map(|t| t.map(|t| t.back(N)))));
        walker.turns = heard.depth.iter().zip(some).map(turns).collect();
        walker
    }

    /// Walks from the window's end to its begin.
    pub fn backward(&self) -> Backward<N> {
        Arch::new().dispatch(BackwardOf(self))
    }

    /// Walks from the window's begin to its end.
    pub fn forward(&self, backward: &Backward<N>) -> Walked {
        Arch::new().dispatch(ForwardOf(self, backward))
    }

    fn idle_turns(&self, span: f64, start: bool) -> [Turn; 2] {
        match N {
            1 => [Turn::still(); 2],
            _ => self.model.idle_turns(self.tuning, span, start, N),
        }
    }

    #[inline(always)]
    fn forward_now<S: Simd>(&self, simd: S, backward: &Backward<N>) -> Walked {
        let count = self.lattice.starts.len();
        let (evidence, later) = (backward.evidence, &backward.later);
        let mut walked = Walked {
            evidence,
            present: vec![0.0; count],
            codes: vec![[1.0 / 32.0; 32]; count],
            phases: vec![[Complex32::default(); 2]; count],
        };
        let mut after: Vec<Table<N>> = vec![Table::empty(); count];
        let mut branches = Branches::default();
        let mut before = Table::empty();
        let mut edge = 0;
        for c in 0..count {
            self.arrivals(simd, c, &mut edge, &after, &mut before);
            if !self.some[c] {
                continue;
            }
            let begin = &later[c].begin;
            let ln = ln_dot(simd, &before, begin);
            walked.present[c] = (ln - evidence).min(0.0).exp();
            walked.phases[c] = mean_phases(&before, begin);
            if ln - evidence > LEAST_PRESENT.ln() {
                let (later, end) = (&later[c], &backward.ends[c]);
                walked.codes[c] =
                    self.character(simd, c, &before, later, end, &mut branches, &mut after[c]);
            }
        }
        walked
    }

    /// Likelihood of what follows each candidate's first stop unit, and of what follows
    /// each place within it.
    #[inline(always)]
    fn backward_now<S: Simd>(&self, simd: S) -> Backward<N> {
        let count = self.lattice.starts.len();
        let mut ends = vec![Table::empty(); count];
        for (c, end) in ends.iter_mut().enumerate() {
            self.exit(simd, c, end);
        }
        let mut later = vec![Later::empty(); count];
        let mut edges = self.lattice.edges.iter().enumerate().rev().peekable();
        for c in (0..count).rev() {
            if self.some[c] {
                self.within(simd, c, &ends[c], &mut later[c]);
            }
            while let Some((e, edge)) = edges.next_if(|(_, edge)| edge.to == c) {
                if let Some(from) = edge.from
                    && self.some[c]
                    && self.some[from]
                {
                    let mut table = later[c].begin;
                    self.cross_back(simd, &mut table, &self.heard.gaps[e], true);
                    ends[from].add(simd, &table, edge.ln);
                }
            }
        }
        Backward {
            evidence: self.evidence(simd, &later),
            ends,
            later,
        }
    }

    /// Ways in which a walk can end with a candidate.
    #[inline(always)]
    fn exit<S: Simd>(&self, simd: S, c: usize, table: &mut Table<N>) {
        *table = Table::flat(1.0, self.lattice.off);
        let tail = &self.heard.tails[c];
        if self.some[c] && self.lattice.exit[c] > NEVER {
            let mut stays = Table::flat(1.0, self.lattice.exit[c]);
            self.cross_back(simd, &mut stays, tail, false);
            table.add(simd, &stays, 0.0);
        }
    }

    /// Idle line backwards; with `start`, from the begin of a character.
    #[inline(always)]
    fn cross_back<S: Simd>(&self, simd: S, table: &mut Table<N>, pieces: &[Piece<N>], start: bool) {
        let last = pieces.len().saturating_sub(1);
        for (i, piece) in pieces.iter().enumerate().rev() {
            let turns = self.idle_turns(piece.span, start && i == last);
            let back = turns.map(|t| t.back(N));
            table.turn(simd, &back);
            table.times(simd, MARK, &piece.likelihood.phases);
            table.ln += piece.likelihood.ln;
            table.normalise(simd);
        }
    }

    #[inline(always)]
    fn cross<S: Simd>(&self, simd: S, table: &mut Table<N>, pieces: &[Piece<N>]) {
        let last = pieces.len().saturating_sub(1);
        for (i, piece) in pieces.iter().enumerate() {
            let turns = self.idle_turns(piece.span, i == last);
            table.times(simd, MARK, &piece.likelihood.phases);
            table.turn(simd, &turns);
            table.ln += piece.likelihood.ln;
            table.normalise(simd);
        }
    }

    /// A walk's first table: phases unknown.
    fn unknown() -> Table<N> {
        Table::flat(1.0 / (N * N) as f32, 0.0)
    }

    /// All that leads to a candidate; `edge` moves past the edges that do.
    #[inline(always)]
    fn arrivals<S: Simd>(
        &self,
        simd: S,
        c: usize,
        edge: &mut usize,
        after: &[Table<N>],
        sum: &mut Table<N>,
    ) {
        *sum = Self::unknown();
        sum.ln = self.lattice.entry[c];
        while let Some(e) = self.lattice.edges.get(*edge).filter(|e| e.to == c) {
            let some = self.some[c] && e.from.is_none_or(|f| after[f].ln > NEVER);
            if some {
                let mut table = e.from.map_or_else(Self::unknown, |f| after[f]);
                self.cross(simd, &mut table, &self.heard.gaps[*edge]);
                sum.add(simd, &table, e.ln);
            }
            *edge += 1;
        }
        sum.normalise(simd);
    }

    /// Everything, from the window's begin on.
    #[inline(always)]
    fn evidence<S: Simd>(&self, simd: S, later: &[Later<N>]) -> f32 {
        let unknown = Self::unknown();
        let mut total = 0.0; // nothing but noise
        for (entry, character) in self.lattice.entry.iter().zip(later) {
            total = add(total, entry + ln_dot(simd, &unknown, &character.begin));
        }
        for (e, edge) in self.lattice.edges.iter().enumerate() {
            if edge.from.is_none() && self.some[edge.to] {
                let mut table = later[edge.to].begin;
                self.cross_back(simd, &mut table, &self.heard.gaps[e], true);
                total = add(total, edge.ln + ln_dot(simd, &unknown, &table));
            }
        }
        total
    }
}

#[inline(always)]
fn ln_dot<S: Simd, const N: usize>(simd: S, a: &Table<N>, b: &Table<N>) -> f32 {
    ln_fast(a.dot(simd, b).max(f32::MIN_POSITIVE)) + a.ln + b.ln
}

/// Mean of `exp(i phase)` of both tones under the product of two tables.
#[inline(always)]
fn mean_phases<const N: usize>(a: &Table<N>, b: &Table<N>) -> [Complex32; 2] {
    let (mut marks, mut spaces) = ([0.0f32; N], [0.0f32; N]);
    for (mark, (a, b)) in marks.iter_mut().zip(a.cells.iter().zip(&b.cells)) {
        let mut row = [0.0f32; N];
        for (r, (a, b)) in row.iter_mut().zip(a.iter().zip(b)) {
            *r = a * b;
        }
        *mark = row.iter().sum();
        spaces.iter_mut().zip(&row).for_each(|(s, r)| *s += r);
    }
    let total = marks.iter().sum::<f32>().max(f32::MIN_POSITIVE);
    [marks, spaces].map(|list| {
        let sum: Complex32 = (0..N).map(|j| direction::<N>(j) * list[j]).sum();
        sum / total
    })
}

#[cfg(test)]
mod tests;
