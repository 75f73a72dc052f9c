//! Where copies are sure and differ: date, serial, time, price. What each of them says is shown
//! beside the others; nothing is merged.
//!
//! Copies are grouped over the whole word: what one adds to the odds of being the same word as
//! a group, place by place, decides whether it is of that group or says something else. A copy
//! that is too full of holes to tell is of none.

use std::ops::Range;

use crate::columns::{Column, Columns, Prepared};
use crate::rates::{DIFFER, LOST, LOST_ON, SURE, differ};
use crate::shares::{Shares, best, normal};
use crate::spans::{instead_of, says, shares, spans};

/// Odds of being of one group rather than of another from which on a copy counts as its bearer,
/// natural logarithm: 20 to 1.
const TELLS: f32 = 3.0;
/// Share of words of letters that differ on purpose, where two copies are sure of different
/// letters.
const WORDS_DIFFER: f32 = 0.01;

/// What one or more copies say at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Wording {
    /// The copies that bear it, by their place among those given.
    pub copies: Vec<usize>,
    /// The characters of the joint copy at which it has one.
    pub places: Vec<usize>,
    /// Probability of each code there, by these copies, and where they are not sure by those of
    /// other wordings that may say the same there.
    pub codes: Vec<Shares>,
}

/// One place in several wordings.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// The characters of the joint copy that they stand for.
    pub characters: Range<usize>,
    /// The one that most copies bear first.
    pub wordings: Vec<Wording>,
}

/// All variants with their spans.
pub(crate) fn variants(
    columns: &Columns,
    copies: &[Prepared],
    frequencies: &Shares,
) -> Vec<(Range<usize>, Variant)> {
    let variant = |span: Range<usize>| {
        let word = Word {
            columns: &columns.all[span.clone()],
            copies,
            frequencies,
            figures: columns.all[span.clone()]
                .iter()
                .map(|c| columns.figures(c))
                .collect(),
        };
        let groups = word.groups();
        (groups.len() > 1).then(|| {
            let wording = |g: usize| word.wording(&groups, g, span.start);
            let variant = Variant {
                characters: span.clone(),
                wordings: (0..groups.len()).map(wording).collect(),
            };
            (span, variant)
        })
    };
    spans(columns, copies)
        .into_iter()
        .filter_map(variant)
        .collect()
}

struct Word<'a> {
    columns: &'a [Column],
    copies: &'a [Prepared],
    frequencies: &'a Shares,
    figures: Vec<f32>,
}

/// Copies that say the same, and what: for each column shares of all codes, or `None` where
/// they have nothing.
struct Group {
    copies: Vec<usize>,
    says: Vec<Option<Shares>>,
}

impl Word<'_> {
    fn groups(&self) -> Vec<Group> {
        let count = self.columns[0].voices.len();
        let mut order: Vec<usize> = (0..count).filter(|c| self.sure(*c) > 0).collect();
        order.sort_by_key(|copy| std::cmp::Reverse(self.sure(*copy)));
        let mut groups: Vec<Group> = Vec::new();
        let mut left = Vec::new();
        for copy in order {
            let own = self.own(copy);
            let says_other = |g: &Group| self.odds(g, &own, 0.0) < self.threshold(g, &own);
            if groups.iter().all(says_other) {
                groups.push(own);
                continue;
            }
            left.push(own);
        }
        // What belongs where is told when all groups are known.
        for own in left {
            if let Some(at) = self.belongs(&groups, &own) {
                self.add(&mut groups[at], own);
            }
        }
        groups.sort_by_key(|g| {
            (
                std::cmp::Reverse(g.copies.len()),
                g.copies.iter().min().copied(),
            )
        });
        groups
    }

    /// How many characters of the word a copy is sure of.
    fn sure(&self, copy: usize) -> usize {
        let sure = |c: &&Column| says(c, self.copies, copy).is_some_and(|(_, p)| p > SURE);
        self.columns.iter().filter(sure).count()
    }

    fn own(&self, copy: usize) -> Group {
        // What is more likely noise says nothing.
        let sent = |c: &Column| {
            c.slot(copy)
                .is_some_and(|s| self.copies[copy].rows[s].present > 0.5)
        };
        let says = |c: &Column| shares(c, self.copies, copy).filter(|_| sent(c));
        Group {
            copies: vec![copy],
            says: self.columns.iter().map(says).collect(),
        }
    }

    /// Log odds that a copy says what a group says; no character counts for more than `most`:
    /// that they agree elsewhere in a word does not speak against another digit in it.
    fn odds(&self, group: &Group, own: &Group, most: f32) -> f32 {
        let mut odds = 0.0;
        let mut gap = false;
        for (at, (a, b)) in group.says.iter().zip(&own.says).enumerate() {
            odds += match (a, b) {
                (Some(a), Some(b)) => self.common(a, b).min(most),
                (None, None) => 0.0,
                _ if !self.passes(at, own.copies[0]) => 0.0,
                _ if gap => LOST_ON.ln(),
                _ => LOST.ln(),
            };
            gap = a.is_some() != b.is_some();
        }
        odds
    }

    fn passes(&self, at: usize, copy: usize) -> bool {
        self.columns[at].voices[copy].is_some()
    }

    /// Log odds of a code in common, over chance.
    fn common(&self, a: &Shares, b: &Shares) -> f32 {
        let chance = |s: &Shares| {
            s.iter()
                .zip(self.frequencies)
                .map(|(s, f)| s * f)
                .sum::<f32>()
        };
        let both: f32 = (0..a.len())
            .map(|c| a[c] * b[c] * self.frequencies[c])
            .sum();
        (both / (chance(a) * chance(b))).ln()
    }

    /// Log odds below which two that are sure of different codes say different words; nothing is
    /// below it where they are sure of none.
    fn threshold(&self, group: &Group, own: &Group) -> f32 {
        let sure = |s: &Option<Shares>| {
            s.as_ref()
                .map(|s| (best(s), s[best(s)]))
                .filter(|s| s.1 > SURE)
        };
        let has = |of: &Group, at: usize| of.says[at].is_some();
        let only = |of: &Group, other: &Group, at: usize| has(of, at) && !has(other, at);
        let replaced = |a: &Group, b: &Group, at: usize| {
            only(a, b, at)
                && sure(&a.says[at]).is_some()
                && instead_of(self.columns.len(), &self.figures, at, |k| only(b, a, k))
        };
        let places = (0..self.columns.len()).filter(|at| {
            match (sure(&group.says[*at]), sure(&own.says[*at])) {
                (Some(a), Some(b)) => a.0 != b.0,
                _ => replaced(group, own, *at) || replaced(own, group, *at),
            }
        });
        let figures = places.map(|at| self.figures[at]);
        match figures.reduce(f32::max) {
            None => f32::NEG_INFINITY,
            Some(figures) => (WORDS_DIFFER + figures * (DIFFER[1] - WORDS_DIFFER)).ln(),
        }
    }

    /// The group that a copy is of, if it tells.
    fn belongs(&self, groups: &[Group], own: &Group) -> Option<usize> {
        let mut odds: Vec<(usize, f32)> = groups
            .iter()
            .map(|g| self.odds(g, own, f32::MAX))
            .enumerate()
            .collect();
        odds.sort_by(|a, b| b.1.total_cmp(&a.1));
        let second = odds.get(1).map_or(f32::NEG_INFINITY, |o| o.1);
        (odds[0].1 - second > TELLS).then_some(odds[0].0)
    }

    fn add(&self, group: &mut Group, own: Group) {
        group.copies.extend(own.copies);
        for (a, b) in group.says.iter_mut().zip(own.says) {
            *a = match (a.take(), b) {
                (Some(a), Some(b)) => Some(normal(&std::array::from_fn(|c| a[c] * b[c]))),
                (a, None) => a,
                (None, b) => b,
            };
        }
    }

    fn wording(&self, groups: &[Group], which: usize, start: usize) -> Wording {
        let has = |at: usize| Some((start + at, self.said(groups, which, at)?));
        let (places, codes) = (0..self.columns.len()).filter_map(has).unzip();
        let mut copies = groups[which].copies.clone();
        copies.sort_unstable();
        Wording {
            copies,
            places,
            codes,
        }
    }

    /// What a group says at a place, by itself and by those who most likely say the same there:
    /// a word differs in a digit, and the shift before it is that of all.
    fn said(&self, groups: &[Group], which: usize, at: usize) -> Option<Shares> {
        let own = groups[which].says[at]?;
        let others = groups.iter().enumerate().filter(|(k, _)| *k != which);
        let others: Vec<&Shares> = others.filter_map(|(_, g)| g.says[at].as_ref()).collect();
        let differ = differ(self.figures[at]);
        let each = (1.0 - differ) / others.len().max(1) as f32;
        let mut said = own.map(|p| p * differ);
        for other in others {
            let same = each * self.common(&own, other).exp();
            let both = normal(&std::array::from_fn(|c| own[c] * other[c]));
            said.iter_mut().zip(both).for_each(|(s, b)| *s += same * b);
        }
        Some(normal(&said))
    }
}
