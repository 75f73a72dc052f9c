//! The walk: all paths through a lattice under one sender model, forward and backward.
//!
//! A path is a sequence of starts, codes and phases. On every candidate stands a table
//! over the phases of both tones: how likely all that came before is (forward), and all
//! that comes after (backward). Their product is what is known of the character.

use markhold_signal::Complex32;

use super::heard::{Elements, Heard, Piece};
use super::lattice::Lattice;
use super::model::{SenderModel, Tuning};
use super::sound::{MARK, SPACE, Stretch, direction};
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
    /// Mean of `exp(i phase)` of both tones where each candidate begins.
    pub phases: Vec<[Complex32; 2]>,
}

/// Least probability of the beginning of a code, given its candidate, to be followed up.
const LEAST_SHARE: f32 = 1e-4;
/// Least probability of a candidate whose codes are looked at.
const LEAST_PRESENT: f32 = 1e-4;
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
    walk_some(
        heard,
        lattice,
        &vec![true; lattice.starts.len()],
        model,
        tuning,
    )
}

/// Walks a lattice through those candidates only that are marked with `true`.
pub fn walk_some<const N: usize>(
    heard: &Heard<N>,
    lattice: &Lattice,
    some: &[bool],
    model: &SenderModel,
    tuning: &Tuning,
) -> Walked {
    Walker::new(heard, lattice, some, model, tuning).walk()
}

/// By tone sent, then by phase.
type Turns = [[Turn; 2]; 2];

struct Walker<'a, const N: usize> {
    heard: &'a Heard<N>,
    lattice: &'a Lattice,
    some: &'a [bool],
    model: &'a SenderModel,
    tuning: &'a Tuning,
    /// Of each candidate's elements: forward and back.
    turns: Vec<(Turns, Turns)>,
}

/// What follows a place within a character.
struct Later<const N: usize> {
    /// Before the start element; before each of the five; before the stop unit.
    levels: [Table<N>; 7],
}

impl<'a, const N: usize> Walker<'a, N> {
    fn new(
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
        walker.turns = heard.depth.iter().zip(some).map(turns).collect();
        walker
    }

    fn idle_turns(&self, span: f64, start: bool) -> [Turn; 2] {
        match N {
            1 => [Turn::still(); 2],
            _ => self.model.idle_turns(self.tuning, span, start, N),
        }
    }

    fn walk(&self) -> Walked {
        let count = self.lattice.starts.len();
        let (ends, later) = self.backward();
        let evidence = self.evidence(&later);
        let mut walked = Walked {
            evidence,
            present: Vec::with_capacity(count),
            codes: Vec::with_capacity(count),
            phases: Vec::with_capacity(count),
        };
        let mut after: Vec<Table<N>> = Vec::with_capacity(count);
        let mut edge = 0;
        for c in 0..count {
            let before = self.arrivals(c, &mut edge, &after);
            if !self.some[c] {
                walked.present.push(0.0);
                walked.phases.push([Complex32::default(); 2]);
                walked.codes.push([1.0 / 32.0; 32]);
                after.push(Table::empty());
                continue;
            }
            let begin = &later[c].levels[0];
            let ln = ln_dot(&before, begin);
            walked.present.push((ln - evidence).min(0.0).exp());
            walked.phases.push(mean_phases(&before, begin));
            let (end, codes) = match ln - evidence > LEAST_PRESENT.ln() {
                true => self.character(c, &before, &later[c], &ends[c]),
                false => (Table::empty(), [1.0 / 32.0; 32]),
            };
            walked.codes.push(codes);
            after.push(end);
        }
        walked
    }

    /// Likelihood of what follows each candidate's first stop unit, and of what follows
    /// each place within it.
    fn backward(&self) -> (Vec<Table<N>>, Vec<Later<N>>) {
        let count = self.lattice.starts.len();
        let mut ends: Vec<Table<N>> = (0..count).map(|c| self.exit(c)).collect();
        let mut later = Vec::with_capacity(count);
        let mut edges = self.lattice.edges.iter().enumerate().rev().peekable();
        for c in (0..count).rev() {
            let character = match self.some[c] {
                true => self.within(c, &ends[c]),
                false => Later {
                    levels: [Table::empty(); 7],
                },
            };
            while let Some((e, edge)) = edges.next_if(|(_, edge)| edge.to == c) {
                if let Some(from) = edge.from
                    && self.some[c]
                    && self.some[from]
                {
                    let mut table = character.levels[0];
                    self.cross_back(&mut table, &self.heard.gaps[e], true);
                    ends[from].add(&table, edge.ln);
                }
            }
            later.push(character);
        }
        later.reverse();
        (ends, later)
    }

    /// Ways in which a walk can end with a candidate.
    fn exit(&self, c: usize) -> Table<N> {
        let mut table = Table::flat(1.0, self.lattice.exit[c]);
        let tail = &self.heard.tails[c];
        if !tail.is_empty() {
            self.cross_back(&mut table, tail, false);
        }
        table.add(&Table::flat(1.0, 0.0), self.lattice.off);
        table
    }

    fn within(&self, c: usize, end: &Table<N>) -> Later<N> {
        let (heard, back) = (&self.heard.elements[c], &self.turns[c].1);
        let mut levels = [*end; 7];
        element_back(&mut levels[6], back, MARK, &heard.stop);
        for k in (0..5).rev() {
            let mut mark = levels[k + 2];
            let mut space = mark;
            element_back(&mut mark, back, MARK, &heard.data[k][MARK]);
            element_back(&mut space, back, SPACE, &heard.data[k][SPACE]);
            mark.add(&space, 0.0);
            mark.ln -= std::f32::consts::LN_2;
            mark.normalise();
            levels[k + 1] = mark;
        }
        levels[0] = levels[1];
        element_back(&mut levels[0], back, SPACE, &heard.start);
        levels[0].normalise();
        Later { levels }
    }

    /// Idle line backwards; with `start`, from the begin of a character.
    fn cross_back(&self, table: &mut Table<N>, pieces: &[Piece<N>], start: bool) {
        let last = pieces.len().saturating_sub(1);
        for (i, piece) in pieces.iter().enumerate().rev() {
            let turns = self.idle_turns(piece.span, start && i == last);
            turn(table, &turns.map(|t| t.back(N)));
            times(table, MARK, &piece.stretch);
            table.normalise();
        }
    }

    fn cross(&self, table: &mut Table<N>, pieces: &[Piece<N>]) {
        let last = pieces.len().saturating_sub(1);
        for (i, piece) in pieces.iter().enumerate() {
            times(table, MARK, &piece.stretch);
            turn(table, &self.idle_turns(piece.span, i == last));
            table.normalise();
        }
    }

    /// A walk's first table: phases unknown.
    fn unknown() -> Table<N> {
        Table::flat(1.0 / (N * N) as f32, 0.0)
    }

    /// All that leads to a candidate; `edge` moves past the edges that do.
    fn arrivals(&self, c: usize, edge: &mut usize, after: &[Table<N>]) -> Table<N> {
        let mut sum = Self::unknown();
        sum.ln = self.lattice.entry[c];
        while let Some(e) = self.lattice.edges.get(*edge).filter(|e| e.to == c) {
            let mut table = e.from.map_or_else(Self::unknown, |f| after[f]);
            if table.ln > NEVER && self.some[c] {
                self.cross(&mut table, &self.heard.gaps[*edge]);
                sum.add(&table, e.ln);
            }
            *edge += 1;
        }
        sum.normalise();
        sum
    }

    /// Everything, from the window's begin on.
    fn evidence(&self, later: &[Later<N>]) -> f32 {
        let unknown = Self::unknown();
        let mut total = 0.0; // nothing but noise
        for (entry, character) in self.lattice.entry.iter().zip(later) {
            total = add(total, entry + ln_dot(&unknown, &character.levels[0]));
        }
        for (e, edge) in self.lattice.edges.iter().enumerate() {
            if edge.from.is_none() && self.some[edge.to] {
                let mut table = later[edge.to].levels[0];
                self.cross_back(&mut table, &self.heard.gaps[e], true);
                total = add(total, edge.ln + ln_dot(&unknown, &table));
            }
        }
        total
    }

    /// Follows the codes of a candidate element by element: the table after its first stop
    /// unit, and the probability of each code.
    fn character(
        &self,
        c: usize,
        before: &Table<N>,
        later: &Later<N>,
        end: &Table<N>,
    ) -> (Table<N>, [f32; 32]) {
        let (heard, turns) = (&self.heard.elements[c], &self.turns[c].0);
        let mut first = *before;
        element(&mut first, turns, SPACE, &heard.start);
        first.normalise();
        let mut level = vec![(0usize, first)];
        for k in 0..5 {
            level = branch(heard, turns, k, &level, &later.levels[k + 2]);
        }
        let mut sum = Table::empty();
        let mut codes = [NEVER; 32];
        for (code, mut table) in level {
            element(&mut table, turns, MARK, &heard.stop);
            codes[code] = ln_dot(&table, end);
            sum.add(&table, 0.0);
        }
        sum.normalise();
        (sum, shares(&codes))
    }
}

/// Splits every beginning of a code into its two continuations; drops the hopeless.
fn branch<const N: usize>(
    heard: &Elements<N>,
    turns: &Turns,
    k: usize,
    level: &[(usize, Table<N>)],
    later: &Table<N>,
) -> Vec<(usize, Table<N>)> {
    let mut next = Vec::with_capacity(2 * level.len());
    for (code, table) in level {
        for (tone, bit) in [(MARK, 1), (SPACE, 0)] {
            let mut table = *table;
            element(&mut table, turns, tone, &heard.data[k][tone]);
            table.ln -= std::f32::consts::LN_2;
            next.push((ln_dot(&table, later), code | bit << k, table));
        }
    }
    let highest = next.iter().fold(NEVER, |a, n| a.max(n.0));
    let least = highest + LEAST_SHARE.ln();
    let worth = next.into_iter().filter(|n| n.0 > least);
    worth
        .map(|(_, code, mut table)| {
            table.normalise();
            (code, table)
        })
        .collect()
}

fn element<const N: usize>(table: &mut Table<N>, turns: &Turns, tone: usize, s: &Stretch<N>) {
    times(table, tone, s);
    turn(table, &turns[tone]);
}

fn element_back<const N: usize>(table: &mut Table<N>, back: &Turns, tone: usize, s: &Stretch<N>) {
    turn(table, &back[tone]);
    times(table, tone, s);
}

fn turn<const N: usize>(table: &mut Table<N>, turns: &[Turn; 2]) {
    table.turn_mark(&turns[MARK]);
    table.turn_space(&turns[SPACE]);
}

fn times<const N: usize>(table: &mut Table<N>, tone: usize, stretch: &Stretch<N>) {
    match tone {
        MARK => table.times_mark(&stretch.phases),
        _ => table.times_space(&stretch.phases),
    }
    table.ln += stretch.ln;
}

fn ln_dot<const N: usize>(a: &Table<N>, b: &Table<N>) -> f32 {
    a.dot(b).max(f32::MIN_POSITIVE).ln() + a.ln + b.ln
}

/// Mean of `exp(i phase)` of both tones under the product of two tables.
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

fn shares(lns: &[f32; 32]) -> [f32; 32] {
    let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
    let raw = lns.map(|ln| (ln - highest).exp());
    let total: f32 = raw.iter().sum();
    raw.map(|r| r / total)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::elements::ToneOnGrid;
    use crate::senders::lattice::Edge;
    use crate::senders::sound::Sound;
    use markhold_signal::bessel::LnI0;
    use std::f32::consts::{PI, TAU};

    const STEPS: usize = 4;
    const TUNING: Tuning = Tuning {
        distance_hz: 170.0,
        element_s: 0.022,
        offset_hz: [0.0; 2],
    };
    /// The phases turn by whole steps of sixteen, so that the grid holds them exactly.
    const EXACT: Tuning = Tuning {
        distance_hz: (3.0 + 12.0 / 16.0) / 0.022,
        ..TUNING
    };
    const STEADY: SenderModel = SenderModel {
        continuous: true,
        wander: 0.0,
        kick: 0.0,
        start: 0.0,
        prior: 0.0,
    };

    /// Small numbers that look random, the same every time.
    fn noise(seed: &mut u64) -> f32 {
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let uniform = |s: u64| ((s >> 33) as f32 + 0.5) / (1u64 << 31) as f32;
        let a = uniform(*seed);
        *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (-2.0 * a.ln()).sqrt() * (TAU * uniform(*seed)).cos()
    }

    /// Both tones of a phase-continuous sender on the grid: lines of `(mark?, steps)`.
    fn tones(line: &[(bool, usize)], tuning: &Tuning, energy: f32, seed: u64) -> [ToneOnGrid; 2] {
        let mut seed = seed;
        let cycles = (tuning.distance_hz * tuning.element_s) as f32;
        let (mut mark, mut space) = (0.7f32, 2.1f32);
        let mut sums = [vec![Complex32::default()], vec![Complex32::default()]];
        for &(is_mark, steps) in line {
            for _ in 0..steps {
                let part = 1.0 / STEPS as f32;
                for (k, list) in sums.iter_mut().enumerate() {
                    let phase = [mark, space][k];
                    let sent = (k == 0) == is_mark;
                    let tone = Complex32::from_polar(if sent { part } else { 0.0 }, phase);
                    let spread = (0.5 * part / energy).sqrt();
                    let hiss = Complex32::new(noise(&mut seed), noise(&mut seed)) * spread;
                    list.push(list[list.len() - 1] + tone + hiss);
                }
                match is_mark {
                    true => space += TAU * (cycles * part),
                    false => mark -= TAU * (cycles * part),
                }
            }
        }
        sums.map(|sums| ToneOnGrid {
            power: vec![1.0; sums.len()],
            noise: vec![1.0 / energy; sums.len()],
            sums,
        })
    }

    fn character(code: usize) -> Vec<(bool, usize)> {
        let mut line = vec![(false, STEPS)];
        line.extend((0..5).map(|k| (code >> k & 1 == 1, STEPS)));
        line.push((true, STEPS));
        line
    }

    /// Characters that follow each other without a gap, all starts known.
    fn sent(
        codes: &[usize],
        tuning: &Tuning,
        energy: f32,
        seed: u64,
    ) -> ([ToneOnGrid; 2], Lattice) {
        let line: Vec<_> = codes.iter().flat_map(|&c| character(c)).collect();
        let edge = |to: usize| Edge {
            from: Some(to - 1),
            to,
            ln: 0.0,
        };
        let count = codes.len();
        let mut entry = vec![NEVER; count];
        entry[0] = 0.0;
        let mut exit = vec![NEVER; count];
        exit[count - 1] = 0.0;
        let lattice = Lattice {
            starts: (0..count).map(|c| (c * 7 * STEPS) as f64).collect(),
            edges: (1..count).map(edge).collect(),
            entry,
            exit,
            off: NEVER,
        };
        (tones(&line, tuning, energy, seed), lattice)
    }

    fn heard<const N: usize>(tones: &[ToneOnGrid; 2], lattice: &Lattice) -> Heard<N> {
        let points = tones[0].sums.len();
        let clear: Vec<f32> = (0..points).map(|i| i as f32 / STEPS as f32).collect();
        let sound = Sound {
            steps: STEPS,
            tones: [&tones[0], &tones[1]],
            clear: &clear,
            ln_i0: &LnI0::default(),
        };
        Heard::new(&sound, lattice)
    }

    /// The slow obvious way: every pair of first phases, every code, one after the other.
    fn obvious(heard: &Heard<16>, codes: usize) -> Vec<[f64; 32]> {
        // Turn of one element in steps of sixteen: 12/16 of a circle.
        const TURN: usize = 12;
        let mut sums = vec![[0.0f64; 32]; codes];
        for first in 0..256 {
            for all in 0..32usize.pow(codes as u32) {
                let (mut mark, mut space) = (first / 16, first % 16);
                let mut ln = 0.0f64;
                let mut take = |tone: usize, s: &Stretch<16>| {
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
        for seed in 0..3 {
            let codes = [5 + 6 * seed as usize, 30 - 7 * seed as usize];
            let (tones, lattice) = sent(&codes, &EXACT, 2.0, seed + 1);
            let heard = heard::<16>(&tones, &lattice);
            let walked = walk(&heard, &lattice, &STEADY, &EXACT);
            let slow = obvious(&heard, 2);
            for c in 0..2 {
                assert!((walked.present[c] - 1.0).abs() < 1e-3, "{walked:?}");
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
