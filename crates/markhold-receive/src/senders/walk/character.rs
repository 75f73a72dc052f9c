//! Within one character: what leads from its start to its stop, and back.

use super::{LEAST_SHARE, Turns, Walker, ln_dot};
use crate::senders::sound::{Likelihood, MARK, SPACE};
use crate::senders::table::Table;
use crate::sums::log_sum::NEVER;
use pulp::Simd;

/// What follows a place within a character, that place's element included.
#[derive(Clone)]
pub(super) struct Later<const N: usize> {
    /// From the start element on.
    pub(super) begin: Table<N>,
    /// From each of the five elements on, if it is mark and if it is space.
    pub(super) data: [[Table<N>; 2]; 5],
}

impl<const N: usize> Later<N> {
    pub(super) fn empty() -> Self {
        Self {
            begin: Table::empty(),
            data: [[Table::empty(); 2]; 5],
        }
    }
}

/// Beginnings of a character's code, with the table that each leads to.
#[derive(Default)]
pub(super) struct Branches<const N: usize> {
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

impl<const N: usize> Walker<'_, N> {
    /// What follows each place within a candidate, from what follows its first stop unit.
    #[inline(always)]
    pub(super) fn within<S: Simd>(&self, simd: S, c: usize, end: &Table<N>, later: &mut Later<N>) {
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
    pub(super) fn change<S: Simd>(&self, simd: S, table: &mut Table<N>, tone: usize) {
        if let Some((forward, _)) = &self.changes {
            table.turn(simd, &forward[tone]);
        }
    }

    /// The same backwards.
    #[inline(always)]
    pub(super) fn change_back<S: Simd>(&self, simd: S, table: &mut Table<N>, tone: usize) {
        if let Some((_, back)) = &self.changes {
            table.turn(simd, &back[tone]);
        }
    }

    /// Follows the codes of a candidate element by element: the table `after` its first
    /// stop unit, and the probability of each code.
    #[expect(
        clippy::too_many_arguments,
        reason = "the inner loop's tables are lent, so that nothing is allocated in it"
    )]
    #[inline(always)]
    pub(super) fn character<S: Simd>(
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

/// Probabilities of 32 codes by their log weights.
pub fn shares(lns: &[f32; 32]) -> [f32; 32] {
    let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
    let raw = lns.map(|ln| (ln - highest).exp());
    let total: f32 = raw.iter().sum();
    raw.map(|r| r / total)
}
