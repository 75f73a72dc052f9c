//! The walk: all paths through a lattice under one sender model, forward and backward.
//!
//! A path is a sequence of starts, codes and phases. On every candidate stands a table
//! over the phases of both tones: how likely all that came before is (forward), and all
//! that comes after (backward). Their product is what is known of the character.

use super::lattice::{CHARACTER, Edge, Lattice};
use super::model::{SenderModel, Tuning};
use super::sound::{MARK, SPACE, Sound, Stretch};
use super::table::{Table, Turn};
use crate::characters::log_sum::{NEVER, add};

/// What one model makes of a window.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// Log likelihood ratio of the window under the model against noise alone.
    pub evidence: f32,
    /// Probability of each candidate.
    pub present: Vec<f32>,
    /// Probability of each code, given the candidate.
    pub codes: Vec<[f32; 32]>,
}

/// Least share of a beginning of a code, among all, that is followed up.
const LEAST_SHARE: f32 = 1e-6;
/// Fades deeper than this factor in power do not make a phase wander any faster.
const DEEPEST: f32 = 16.0;

/// Walks a lattice. `N` phases; with one, phases are not followed and the model's
/// parameters do not matter.
pub fn walk<const N: usize>(
    sound: &Sound,
    lattice: &Lattice,
    model: &SenderModel,
    tuning: &Tuning,
) -> Walked {
    let walker = Walker::<N>::new(sound, lattice, model, tuning);
    let (ends, begins) = walker.backward();
    let evidence = walker.evidence(&begins);
    let mut walked = Walked {
        evidence,
        present: Vec::with_capacity(lattice.starts.len()),
        codes: Vec::with_capacity(lattice.starts.len()),
    };
    let mut after: Vec<Table<N>> = Vec::with_capacity(lattice.starts.len());
    for c in 0..lattice.starts.len() {
        let before = walker.arrivals(c, &after);
        let ln = before.dot(&begins[c]).max(f32::MIN_POSITIVE).ln() + before.ln + begins[c].ln;
        walked.present.push((ln - evidence).min(0.0).exp());
        let (end, codes) = walker.character(c, &before, &ends[c]);
        walked.codes.push(codes);
        after.push(end);
    }
    walked
}

/// All that belongs to one candidate.
struct Weighed<const N: usize> {
    start: Stretch<N>,
    data: [[Stretch<N>; 2]; 5],
    stop: Stretch<N>,
    /// By tone sent, then by phase.
    turns: [[Turn; 2]; 2],
    back: [[Turn; 2]; 2],
}

struct Walker<'a, const N: usize> {
    sound: &'a Sound<'a>,
    lattice: &'a Lattice,
    model: &'a SenderModel,
    tuning: &'a Tuning,
    mean: [f32; 2],
    weighed: Vec<Weighed<N>>,
}

impl<'a, const N: usize> Walker<'a, N> {
    fn new(
        sound: &'a Sound,
        lattice: &'a Lattice,
        model: &'a SenderModel,
        tuning: &'a Tuning,
    ) -> Self {
        let mean = [0, 1].map(|k| {
            let power = &sound.tones[k].power;
            power.iter().sum::<f32>() / power.len() as f32
        });
        let mut walker = Self {
            sound,
            lattice,
            model,
            tuning,
            mean,
            weighed: Vec::new(),
        };
        walker.weighed = lattice.starts.iter().map(|&u| walker.weigh(u)).collect();
        walker
    }

    fn weigh(&self, u: f64) -> Weighed<N> {
        let steps = self.sound.steps as f64;
        let element = |tone: usize, k: usize| {
            let from = u + k as f64 * steps;
            self.sound.weigh::<N>(tone, from, from + steps)
        };
        let wander = self.wander(u + 3.5 * steps);
        let turns = [MARK, SPACE].map(|tone| self.turns(tone, 1.0, wander, self.model.kick));
        Weighed {
            start: element(SPACE, 0),
            data: [1, 2, 3, 4, 5].map(|k| [element(MARK, k), element(SPACE, k)]),
            stop: element(MARK, 6),
            back: turns.map(|t| t.map(|t| t.back(N))),
            turns,
        }
    }

    fn turns(&self, tone: usize, span: f64, wander: [f32; 2], kick: f32) -> [Turn; 2] {
        match N {
            1 => [Turn::new(0.0, 0.0, 1); 2],
            _ => self.model.turns(self.tuning, tone, span, wander, kick, N),
        }
    }

    /// How much each phase wanders in an element around a grid point.
    fn wander(&self, at: f64) -> [f32; 2] {
        [0, 1].map(|k| {
            let power = &self.sound.tones[k].power;
            let here = power[(at.max(0.0) as usize).min(power.len() - 1)];
            let depth = (self.mean[k] / here.max(f32::MIN_POSITIVE)).clamp(0.5, DEEPEST);
            self.model.wander * depth.sqrt()
        })
    }

    /// Likelihood of what follows each candidate's first stop unit, and each candidate's
    /// begin.
    fn backward(&self) -> (Vec<Table<N>>, Vec<Table<N>>) {
        let count = self.lattice.starts.len();
        let mut ends: Vec<Table<N>> = (0..count).map(|c| self.exit(c)).collect();
        let mut begins = vec![Table::empty(); count];
        let mut edges = self.lattice.edges.iter().rev().peekable();
        for c in (0..count).rev() {
            begins[c] = self.before_character(c, &ends[c]);
            while let Some(edge) = edges.next_if(|e| e.to == c) {
                if let Some(from) = edge.from {
                    let table = self.idle_back(edge, &begins[c]);
                    ends[from].add(&table, edge.ln);
                }
            }
        }
        (ends, begins)
    }

    /// Ways in which a walk can end with a candidate.
    fn exit(&self, c: usize) -> Table<N> {
        let end = self.lattice.starts[c] + CHARACTER * self.sound.steps as f64;
        let last = self.sound.points() as f64;
        let mut table = Table::flat(1.0, 0.0);
        if end < last {
            self.cross_back(&mut table, end, last, 0.0);
            table.ln += self.lattice.exit[c];
            table.add(&Table::flat(1.0, 0.0), self.lattice.off);
        }
        table
    }

    fn before_character(&self, c: usize, end: &Table<N>) -> Table<N> {
        let w = &self.weighed[c];
        let mut table = *end;
        self.element_back(&mut table, w, MARK, &w.stop);
        for data in w.data.iter().rev() {
            let mut mark = table;
            self.element_back(&mut mark, w, MARK, &data[MARK]);
            self.element_back(&mut table, w, SPACE, &data[SPACE]);
            table.add(&mark, 0.0);
            table.ln -= std::f32::consts::LN_2;
            table.normalise();
        }
        self.element_back(&mut table, w, SPACE, &w.start);
        table.normalise();
        table
    }

    fn element_back(&self, table: &mut Table<N>, w: &Weighed<N>, tone: usize, s: &Stretch<N>) {
        table.turn_mark(&w.back[tone][MARK]);
        table.turn_space(&w.back[tone][SPACE]);
        times(table, tone, s);
    }

    fn element(&self, table: &mut Table<N>, w: &Weighed<N>, tone: usize, s: &Stretch<N>) {
        times(table, tone, s);
        table.turn_mark(&w.turns[tone][MARK]);
        table.turn_space(&w.turns[tone][SPACE]);
    }

    /// Pieces of an idle line: whole elements and one remainder.
    fn pieces(&self, from: f64, to: f64) -> impl DoubleEndedIterator<Item = (f64, f64)> {
        let steps = self.sound.steps as f64;
        let count = ((to - from) / steps).ceil().max(0.0) as usize;
        (0..count).map(move |k| {
            let begin = from + k as f64 * steps;
            (begin, (begin + steps).min(to))
        })
    }

    fn cross_back(&self, table: &mut Table<N>, from: f64, to: f64, kick: f32) {
        let mut kick = kick;
        for (a, b) in self.pieces(from, to).rev() {
            let span = (b - a) / self.sound.steps as f64;
            let turns = self.turns(MARK, span, self.wander(a), kick);
            table.turn_mark(&turns[MARK].back(N));
            table.turn_space(&turns[SPACE].back(N));
            times(table, MARK, &self.sound.weigh(MARK, a, b));
            table.normalise();
            kick = 0.0;
        }
    }

    fn cross(&self, table: &mut Table<N>, from: f64, to: f64, kick: f32) {
        let count = self.pieces(from, to).count();
        for (i, (a, b)) in self.pieces(from, to).enumerate() {
            let span = (b - a) / self.sound.steps as f64;
            let kick = if i + 1 == count { kick } else { 0.0 };
            let turns = self.turns(MARK, span, self.wander(a), kick);
            times(table, MARK, &self.sound.weigh(MARK, a, b));
            table.turn_mark(&turns[MARK]);
            table.turn_space(&turns[SPACE]);
            table.normalise();
        }
    }

    fn end_of(&self, from: Option<usize>) -> f64 {
        from.map_or(0.0, |c| {
            self.lattice.starts[c] + CHARACTER * self.sound.steps as f64
        })
    }

    fn idle_back(&self, edge: &Edge, begin: &Table<N>) -> Table<N> {
        let mut table = *begin;
        let (from, to) = (self.end_of(edge.from), self.lattice.starts[edge.to]);
        self.cross_back(&mut table, from, to, self.model.start);
        table
    }

    /// A walk's first table: phases unknown.
    fn unknown() -> Table<N> {
        Table::flat(1.0 / (N * N) as f32, 0.0)
    }

    /// All that leads to a candidate.
    fn arrivals(&self, c: usize, after: &[Table<N>]) -> Table<N> {
        let mut sum = Self::unknown();
        sum.ln = self.lattice.entry[c];
        let first = self.lattice.edges.partition_point(|e| e.to < c);
        for edge in self.lattice.edges[first..].iter().take_while(|e| e.to == c) {
            let mut table = edge.from.map_or_else(Self::unknown, |f| after[f]);
            let (from, to) = (self.end_of(edge.from), self.lattice.starts[c]);
            self.cross(&mut table, from, to, self.model.start);
            sum.add(&table, edge.ln);
        }
        sum.normalise();
        sum
    }

    /// Everything, from the window's begin on.
    fn evidence(&self, begins: &[Table<N>]) -> f32 {
        let unknown = Self::unknown();
        let mut total = 0.0; // nothing but noise
        for (c, begin) in begins.iter().enumerate() {
            let flat = unknown.dot(begin).max(f32::MIN_POSITIVE).ln() + begin.ln;
            total = add(total, self.lattice.entry[c] + flat);
        }
        for edge in self.lattice.edges.iter().filter(|e| e.from.is_none()) {
            let table = self.idle_back(edge, &begins[edge.to]);
            let flat = unknown.dot(&table).max(f32::MIN_POSITIVE).ln() + table.ln;
            total = add(total, edge.ln + flat);
        }
        total
    }

    /// Follows the codes of a candidate element by element: the table after its first stop
    /// unit, and the probability of each code.
    fn character(&self, c: usize, before: &Table<N>, end: &Table<N>) -> (Table<N>, [f32; 32]) {
        let w = &self.weighed[c];
        let mut first = *before;
        self.element(&mut first, w, SPACE, &w.start);
        first.normalise();
        let mut level = vec![(0usize, first)];
        for (k, data) in w.data.iter().enumerate() {
            level = self.branch(w, k, data, &level);
        }
        let mut sum = Table::empty();
        let mut codes = [NEVER; 32];
        for (code, mut table) in level {
            self.element(&mut table, w, MARK, &w.stop);
            codes[code] = table.dot(end).max(f32::MIN_POSITIVE).ln() + table.ln;
            sum.add(&table, 0.0);
        }
        sum.normalise();
        (sum, shares(&codes))
    }

    /// Splits every beginning of a code into its two continuations; drops the hopeless.
    fn branch(
        &self,
        w: &Weighed<N>,
        k: usize,
        data: &[Stretch<N>; 2],
        level: &[(usize, Table<N>)],
    ) -> Vec<(usize, Table<N>)> {
        let mut next = Vec::with_capacity(2 * level.len());
        for (code, table) in level {
            for (tone, bit) in [(MARK, 1), (SPACE, 0)] {
                let mut table = *table;
                times(&mut table, tone, &data[tone]);
                table.ln -= std::f32::consts::LN_2;
                next.push((code | bit << k, tone, table));
            }
        }
        let lns: Vec<f32> = next.iter().map(|(_, _, t)| t.ln_total()).collect();
        let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
        let worth = |ln: &f32| *ln > highest + LEAST_SHARE.ln();
        next.into_iter()
            .zip(&lns)
            .filter(|(_, ln)| worth(ln))
            .map(|((code, tone, mut table), _)| {
                table.turn_mark(&w.turns[tone][MARK]);
                table.turn_space(&w.turns[tone][SPACE]);
                table.normalise();
                (code, table)
            })
            .collect()
    }
}

fn times<const N: usize>(table: &mut Table<N>, tone: usize, stretch: &Stretch<N>) {
    match tone {
        MARK => table.times_mark(&stretch.phases),
        _ => table.times_space(&stretch.phases),
    }
    table.ln += stretch.ln;
}

fn shares(lns: &[f32; 32]) -> [f32; 32] {
    let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
    let raw = lns.map(|ln| (ln - highest).exp());
    let total: f32 = raw.iter().sum();
    raw.map(|r| r / total)
}
