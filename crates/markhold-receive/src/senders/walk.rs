//! The walk: all paths through a lattice under one sender model, forward and backward.
//!
//! A path is a sequence of starts, codes and phases. On every candidate stands a table
//! over the phases of both tones: how likely all that came before is (forward), and all
//! that comes after (backward). Their product is what is known of the character.

use markhold_signal::Complex32;
use pulp::{Arch, Simd, WithSimd};

use super::heard::{Heard, Piece};
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::sound::{Likelihood, MARK, SPACE, direction};
use super::table::{Table, Turn};
use crate::characters::log_sum::{NEVER, add, ln_fast};

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

/// What follows a place within a character, that place's element included.
#[derive(Clone)]
struct Later<const N: usize> {
    /// From the start element on.
    begin: Table<N>,
    /// From each of the five elements on, if it is mark and if it is space.
    data: [[Table<N>; 2]; 5],
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

    #[inline(always)]
    fn within<S: Simd>(&self, simd: S, c: usize, end: &Table<N>, later: &mut Later<N>) {
        let (heard, back) = (&self.heard.elements[c], &self.turns[c].1);
        let mut next = *end;
        element_back(simd, &mut next, back, MARK, &heard.stop);
        let mut before = [next, next];
        self.change_back(simd, &mut before[SPACE], MARK);
        for k in (0..5).rev() {
            for tone in [MARK, SPACE] {
                let data = &mut later.data[k][tone];
                *data = before[tone];
                element_back(simd, data, back, tone, &heard.data[k][tone]);
            }
            before = self.before(simd, &later.data[k]);
        }
        let mut next = before[SPACE];
        element_back(simd, &mut next, back, SPACE, &heard.start);
        self.change_back(simd, &mut next, SPACE);
        next.normalise(simd);
        later.begin = next;
    }

    /// What follows an element, by its tone, from what follows with either next one.
    #[inline(always)]
    fn before<S: Simd>(&self, simd: S, later: &[Table<N>; 2]) -> [Table<N>; 2] {
        let mark = self.before_tone(simd, later, MARK);
        match self.changes {
            None => [mark, mark],
            Some(_) => [mark, self.before_tone(simd, later, SPACE)],
        }
    }

    #[inline(always)]
    fn before_tone<S: Simd>(&self, simd: S, later: &[Table<N>; 2], tone: usize) -> Table<N> {
        let mut sum = later[tone];
        let mut other = later[1 - tone];
        self.change_back(simd, &mut other, 1 - tone);
        sum.add(simd, &other, 0.0);
        sum.ln -= std::f32::consts::LN_2;
        sum.normalise(simd);
        sum
    }

    /// The line changes to `tone`.
    #[inline(always)]
    fn change<S: Simd>(&self, simd: S, table: &mut Table<N>, tone: usize) {
        if let Some((forward, _)) = &self.changes {
            table.turn(simd, &forward[tone]);
        }
    }

    /// The same backwards.
    #[inline(always)]
    fn change_back<S: Simd>(&self, simd: S, table: &mut Table<N>, tone: usize) {
        if let Some((_, back)) = &self.changes {
            table.turn(simd, &back[tone]);
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

    /// Follows the codes of a candidate element by element: the table `after` its first
    /// stop unit, and the probability of each code.
    #[expect(
        clippy::too_many_arguments,
        reason = "the inner loop's tables are lent, so that nothing is allocated in it"
    )]
    #[inline(always)]
    fn character<S: Simd>(
        &self,
        simd: S,
        c: usize,
        before: &Table<N>,
        later: &Later<N>,
        end: &Table<N>,
        branches: &mut Branches<N>,
        after: &mut Table<N>,
    ) -> [f32; 32] {
        let (heard, turns) = (&self.heard.elements[c], &self.turns[c].0);
        branches.begin(before);
        self.change(simd, &mut branches.now[0].1, SPACE);
        element(simd, &mut branches.now[0].1, turns, SPACE, &heard.start);
        branches.now[0].1.normalise(simd);
        for k in 0..5 {
            self.split(simd, c, branches, k, &later.data[k]);
        }
        *after = Table::empty();
        let mut codes = [NEVER; 32];
        for (code, table) in &mut branches.now {
            if tone_before(*code, 5) == SPACE {
                self.change(simd, table, MARK);
            }
            element(simd, table, turns, MARK, &heard.stop);
            codes[*code] = ln_dot(simd, table, end);
            after.add(simd, table, 0.0);
        }
        after.normalise(simd);
        shares(&codes)
    }

    /// Splits every beginning of a code into its two continuations; drops the hopeless,
    /// which shows before they are followed.
    #[inline(always)]
    fn split<S: Simd>(
        &self,
        simd: S,
        c: usize,
        branches: &mut Branches<N>,
        k: usize,
        later: &[Table<N>; 2],
    ) {
        let (heard, turns) = (&self.heard.elements[c], &self.turns[c].0);
        let Branches { now, next, ways } = branches;
        ways.clear();
        next.clear();
        for (b, (code, table)) in now.iter().enumerate() {
            for tone in [MARK, SPACE] {
                let changed = self.changed(simd, *code, table, k, tone);
                let before = changed.as_ref().unwrap_or(table);
                ways.push((ln_dot(simd, before, &later[tone]), b, tone));
            }
        }
        let highest = ways.iter().fold(NEVER, |a, w| a.max(w.0));
        let least = highest + LEAST_SHARE.ln();
        for &(_, b, tone) in ways.iter().filter(|w| w.0 > least) {
            let (code, table) = &now[b];
            let changed = self.changed(simd, *code, table, k, tone);
            let mut table = changed.unwrap_or(*table);
            element(simd, &mut table, turns, tone, &heard.data[k][tone]);
            table.ln -= std::f32::consts::LN_2;
            table.normalise(simd);
            next.push((code | usize::from(tone == MARK) << k, table));
        }
        std::mem::swap(now, next);
    }

    /// A beginning of a code where element `k` sets in with `tone`; `None` if nothing turns
    /// there.
    #[inline(always)]
    fn changed<S: Simd>(
        &self,
        simd: S,
        code: usize,
        table: &Table<N>,
        k: usize,
        tone: usize,
    ) -> Option<Table<N>> {
        let (forward, _) = self.changes.as_ref()?;
        (tone_before(code, k) != tone).then(|| {
            let mut table = *table;
            table.turn(simd, &forward[tone]);
            table
        })
    }
}

impl<const N: usize> Later<N> {
    fn empty() -> Self {
        Self {
            begin: Table::empty(),
            data: [[Table::empty(); 2]; 5],
        }
    }
}

/// Beginnings of a character's code, with the table that each leads to.
#[derive(Default)]
struct Branches<const N: usize> {
    now: Vec<(usize, Table<N>)>,
    next: Vec<(usize, Table<N>)>,
    /// Continuations: log weight, which beginning, and the element's tone.
    ways: Vec<(f32, usize, usize)>,
}

impl<const N: usize> Branches<N> {
    fn begin(&mut self, table: &Table<N>) {
        self.now.clear();
        self.now.push((0, *table));
    }
}

/// The tone before element `k` of a code: the start element's before the first.
pub fn tone_before(code: usize, k: usize) -> usize {
    match k.checked_sub(1) {
        Some(k) if code >> k & 1 == 1 => MARK,
        _ => SPACE,
    }
}

#[inline(always)]
fn element<S: Simd, const N: usize>(
    simd: S,
    table: &mut Table<N>,
    turns: &Turns,
    tone: usize,
    heard: &Likelihood<N>,
) {
    table.times(simd, tone, &heard.phases);
    table.turn(simd, &turns[tone]);
    table.ln += heard.ln;
}

#[inline(always)]
fn element_back<S: Simd, const N: usize>(
    simd: S,
    table: &mut Table<N>,
    back: &Turns,
    tone: usize,
    heard: &Likelihood<N>,
) {
    table.turn(simd, &back[tone]);
    table.times(simd, tone, &heard.phases);
    table.ln += heard.ln;
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

/// Probabilities of 32 codes by their log weights.
pub fn shares(lns: &[f32; 32]) -> [f32; 32] {
    let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
    let raw = lns.map(|ln| (ln - highest).exp());
    let total: f32 = raw.iter().sum();
    raw.map(|r| r / total)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::elements::ToneOnGrid;
    use crate::senders::testing::{EXACT, STEPS, TUNING, sent, with_sound};
    use std::f32::consts::PI;

    const STEADY: SenderModel = SenderModel {
        continuous: true,
        wander: 0.0,
        kick: 0.0,
        start: 0.0,
    };

    fn heard<const N: usize>(tones: &[ToneOnGrid; 2], lattice: &Lattice) -> Heard<N> {
        with_sound(tones, |sound| Heard::new(sound, lattice))
    }

    /// The slow obvious way: every pair of first phases, every code, one after the other.
    /// With a bias the phase of the tone to come turns `change` steps at each transition.
    fn obvious(heard: &Heard<16>, codes: usize, change: usize) -> Vec<[f64; 32]> {
        // Turn of one element in steps of sixteen: 12/16 of a circle.
        const TURN: usize = 12;
        let mut sums = vec![[0.0f64; 32]; codes];
        for first in 0..256 {
            for all in 0..32usize.pow(codes as u32) {
                let (mut mark, mut space) = (first / 16, first % 16);
                let (mut ln, mut last) = (0.0f64, MARK);
                let mut take = |tone: usize, s: &Likelihood<16>| {
                    match (last, tone) {
                        (MARK, SPACE) => space = (space + change) % 16,
                        (SPACE, MARK) => mark = (mark + change) % 16,
                        _ => {}
                    }
                    last = tone;
                    let phase = [mark, space][tone];
                    ln += f64::from(s.phases[phase].ln() + s.ln);
                    match tone {
                        MARK => space = (space + TURN) % 16,
                        _ => mark = (mark + 16 - TURN) % 16,
                    }
                };
                for (c, elements) in heard.elements.iter().enumerate() {
                    let code = all / 32usize.pow(c as u32) % 32;
                    take(SPACE, &elements.start);
                    for k in 0..5 {
                        let tone = if code >> k & 1 == 1 { MARK } else { SPACE };
                        take(tone, &elements.data[k][tone]);
                    }
                    take(MARK, &elements.stop);
                }
                for (c, sum) in sums.iter_mut().enumerate() {
                    sum[all / 32usize.pow(c as u32) % 32] += (ln - 60.0).exp();
                }
            }
        }
        sums.iter()
            .map(|s| {
                let total: f64 = s.iter().sum();
                s.map(|x| x / total)
            })
            .collect()
    }

    #[test]
    fn agrees_with_the_obvious_sum_over_all_codes_and_phases() {
        for (seed, change) in [(0, 0), (1, 0), (2, 3), (0, 14)] {
            let codes = [5 + 6 * seed as usize, 30 - 7 * seed as usize];
            let (tones, lattice) = sent(&codes, &EXACT, 2.0, seed + 1);
            let heard = heard::<16>(&tones, &lattice);
            let biased = Tuning {
                bias: change as f64 / 16.0 / (3.0 + 12.0 / 16.0),
                ..EXACT
            };
            let walked = walk(&heard, &lattice, &STEADY, &biased);
            let slow = obvious(&heard, 2, change);
            for c in 0..2 {
                // The rest is noise alone, whose evidence is 0.
                let present = 1.0 - (-walked.evidence).exp();
                assert!((walked.present[c] - present).abs() < 1e-3, "{walked:?}");
                for code in 0..32 {
                    let (fast, slow) = (f64::from(walked.codes[c][code]), slow[c][code]);
                    assert!(
                        (fast - slow).abs() < 3e-3,
                        "character {c}, code {code}: {fast} instead of {slow}"
                    );
                }
            }
        }
    }

    fn errors(walked: &Walked, codes: &[usize]) -> usize {
        let best = |p: &[f32; 32]| (0..32).fold(0, |b, c| if p[c] > p[b] { c } else { b });
        let pairs = walked.codes.iter().zip(codes);
        pairs.filter(|(p, c)| best(p) != **c).count()
    }

    #[test]
    fn phase_halves_the_errors_of_envelopes_several_times() {
        let codes: Vec<usize> = (0..60).map(|i| i * 11 % 32).collect();
        let (mut plain, mut phased) = (0, 0);
        for seed in 1..6 {
            let (tones, lattice) = sent(&codes, &TUNING, 4.0, seed);
            let model = SenderModel {
                wander: 0.05,
                ..STEADY
            };
            let walked = walk(&heard::<16>(&tones, &lattice), &lattice, &model, &TUNING);
            phased += errors(&walked, &codes);
            let without = walk(&heard::<1>(&tones, &lattice), &lattice, &model, &TUNING);
            plain += errors(&without, &codes);
            assert!(walked.evidence > without.evidence + 60.0);
        }
        // Limits of a single element and of ten, at 6 dB: 30 % and 1 %.
        assert!((60..=120).contains(&plain), "{plain} of 300");
        assert!(phased <= 9, "{phased} of 300");
    }

    #[test]
    fn a_lost_element_shows_in_the_phase_after_it() {
        let codes = [9, 22, 13];
        let (mut tones, lattice) = sent(&codes, &EXACT, 20.0, 3);
        // Element 3 of the second character is wiped out: nothing but silence.
        let from = (7 + 3) * STEPS;
        for tone in &mut tones {
            let lost = tone.sums[from + STEPS] - tone.sums[from];
            for (i, sum) in tone.sums.iter_mut().enumerate().skip(from) {
                let part = ((i - from) as f32 / STEPS as f32).min(1.0);
                *sum -= lost * part;
            }
        }
        let phased = walk(&heard::<16>(&tones, &lattice), &lattice, &STEADY, &EXACT);
        let plain = walk(&heard::<1>(&tones, &lattice), &lattice, &STEADY, &EXACT);
        assert!(phased.codes[1][22] > 0.99, "{}", phased.codes[1][22]);
        assert!(
            (plain.codes[1][22] - 0.5).abs() < 0.05,
            "{}",
            plain.codes[1][22]
        );
    }

    #[test]
    fn a_random_phase_is_better_explained_without() {
        let codes: Vec<usize> = (0..30).map(|i| i * 7 % 32).collect();
        let (mut tones, lattice) = sent(&codes, &TUNING, 6.0, 4);
        for tone in &mut tones {
            let old = tone.sums.clone();
            for i in 1..old.len() {
                let turn =
                    Complex32::from_polar(1.0, 2.4 * ((i - 1) / STEPS).pow(2) as f32 % (2.0 * PI));
                tone.sums[i] = tone.sums[i - 1] + (old[i] - old[i - 1]) * turn;
            }
        }
        let model = SenderModel {
            wander: 0.05,
            ..STEADY
        };
        let phased = walk(&heard::<16>(&tones, &lattice), &lattice, &model, &TUNING);
        let plain = walk(&heard::<1>(&tones, &lattice), &lattice, &model, &TUNING);
        assert!(plain.evidence > phased.evidence + 20.0);
    }
}
