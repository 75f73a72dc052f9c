//! Whether a place is one of the bulletin, and whether all who have it mean the same.

use crate::columns::{Column, Columns, Voice};
use crate::rates::{DIFFER, INVENTED_ON, LOST, LOST_ON, differ};
use crate::shares::{best, normal};
use crate::sides::Row;

/// Share of another code above which a copy counts as saying that: what is a figure here and
/// another there must not be merged where one of them is faint.
const DISSENTS: f32 = 0.8;
/// Share of figures that differ by having one more or less.
const OTHER_LENGTH: f32 = 0.3;

/// Claim of a slot that something was sent above which it is part of a run. Readings that
/// nothing vouched for come in long runs where nobody sends: each speaks for itself alone.
const VOUCHED: f32 = 0.9;

impl Columns<'_> {
    /// Probability that each column is a place of the bulletin, not something that one copy
    /// invented. Losses and inventions come in runs, so what one copy alone bears is judged by
    /// the whole run.
    pub fn present(&self) -> Vec<f32> {
        let mut present = Vec::with_capacity(self.all.len());
        while present.len() < self.all.len() {
            let at = present.len();
            let run = self.run(at);
            let odds: f32 = match self.all[at].alone() {
                Some(copy) => self.run_odds(copy, at, run),
                None => self.odds(&self.all[at]),
            };
            let p = 1.0 / (1.0 + (-odds).exp());
            present.extend(std::iter::repeat_n(p, run));
        }
        present
    }

    /// How many columns from here on are borne by the same copy alone, and passed by the same
    /// others; at least 1.
    fn run(&self, at: usize) -> usize {
        let first = &self.all[at];
        let passed = |c: &Column| c.voices.iter().map(Option::is_some).collect::<Vec<_>>();
        let like = |c: &&Column| c.alone() == first.alone() && passed(c) == passed(first);
        let vouched = |c: &&Column| {
            let row = |copy: usize| Some(&self.copies[copy].rows[c.slot(copy)?]);
            c.alone().and_then(row).is_some_and(|r| r.present > VOUCHED)
        };
        let run = self.all[at..].iter().take_while(vouched).take_while(like);
        run.count().max(1)
    }

    /// Log odds that a column exists of which several bear witness.
    fn odds(&self, column: &Column) -> f32 {
        let of = |(copy, voice): (usize, &Option<Voice>)| match voice {
            None => 0.0,
            Some(Voice {
                slot: Some(slot), ..
            }) => sent(&self.copies[copy].rows[*slot]),
            Some(_) => LOST.ln(),
        };
        column.voices.iter().enumerate().map(of).sum()
    }

    /// The same for a run of columns that one copy alone bears.
    fn run_odds(&self, copy: usize, at: usize, run: usize) -> f32 {
        let others = self.all[at].voices.iter().flatten().count() - 1;
        let on = (run - 1) as f32;
        let lost = LOST.ln() + on * LOST_ON.ln();
        let slot = |column: &Column| column.slot(copy);
        let rows = self.all[at..at + run].iter().filter_map(slot);
        let claims: Vec<f32> = rows.map(|s| sent(&self.copies[copy].rows[s])).collect();
        // What the slots claim counts once for all: noise that gave one gives the next.
        let mean = claims.iter().sum::<f32>() / claims.len().max(1) as f32;
        mean - on * INVENTED_ON.ln() + others as f32 * lost
    }

    /// Probability that no copy says something else on purpose. Only copies that rather say
    /// another code count, and figures that no more copies have than lack: they may be more
    /// on some nights than on others.
    pub fn agreed(&self, column: &Column) -> f32 {
        let code = best(&self.product(column));
        let figures = self.figures(column);
        let differs = differ(figures);
        let of = |copy: usize| {
            let odds = &self.copies[copy].rows[column.slot(copy)?].odds;
            let own = normal(odds);
            let other = best(&own) != code && own[best(&own)] > DISSENTS;
            other.then(|| (1.0 - differs) * odds[code] / (differs + (1.0 - differs) * odds[code]))
        };
        let codes: f32 = column.bearers().filter_map(of).product();
        let passed = column.voices.iter().flatten().count();
        let lacking = match passed > 1 && 2 * column.bearers().count() <= passed {
            true => LOST / (LOST + figures * DIFFER[1] * OTHER_LENGTH),
            false => 1.0,
        };
        codes * lacking
    }
}

/// Log odds, given what a slot claims, that a character was sent there and was not lost.
fn sent(row: &Row) -> f32 {
    ((1.0 - LOST) * row.present / (1.0 - row.present)).ln()
}
