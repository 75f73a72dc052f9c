//! Learned: a small model of what one archive holds.
//!
//! Names, places and turns of phrase come back week after week. Counts of short n-grams of
//! the archive's own text say more about its next bulletin than any general text.

use std::collections::BTreeMap;

use crate::tokens::{Context, TOKENS, Token, tokens};

/// Longest n-gram that is counted.
const ORDER: usize = 7;
/// Shortest context that has a say: shorter ones say nothing that the general model does not
/// know better.
const SHORTEST: usize = 3;
/// How often a context must have been seen to count as much as all that is known otherwise.
const TRUST: f32 = 4.0;
const MAGIC: &[u8; 4] = b"MKA1";

/// Counts of one archive.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learned {
    /// After each context of [`SHORTEST`] tokens or more: how often each token followed.
    counts: BTreeMap<Context, Vec<(Token, u16)>>,
}

/// Bytes that hold no learned model.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("these are not counts of an archive: {0}; let it learn again")]
pub struct LearnedError(&'static str);

impl Learned {
    /// Learns from a text, on top of what it knows. Only words of letters are learned from:
    /// what stands in figures is not foretold. Give it copy that was sure or was read over by a
    /// person: what it learns wrong it will expect again.
    pub fn learn(&mut self, text: &str) {
        let tokens = tokens(text);
        for (at, &token) in tokens.iter().enumerate().skip(SHORTEST) {
            let context = Context::of(&tokens[at.saturating_sub(ORDER - 1)..at]);
            for len in SHORTEST..=context.len() {
                self.count(context.latest(len), token);
            }
        }
    }

    fn count(&mut self, context: Context, token: Token) {
        let list = self.counts.entry(context).or_default();
        match list.iter_mut().find(|t| t.0 == token) {
            Some(one) => one.1 = one.1.saturating_add(1),
            None => list.push((token, 1)),
        }
    }

    /// Number of contexts.
    pub fn contexts(&self) -> usize {
        self.counts.len()
    }

    /// Whether nothing was learned.
    pub fn is_empty(&self) -> bool {
        self.counts.is_empty()
    }

    /// The longest latest part of a context that it knows.
    pub fn known(&self, context: Context) -> Context {
        (SHORTEST..=context.len().min(ORDER - 1))
            .rev()
            .map(|len| context.latest(len))
            .find(|part| self.counts.contains_key(part))
            .unwrap_or(Context::EMPTY)
    }

    /// Mixes what it knows of a context into a row of probabilities: shorter contexts
    /// first, each the more the oftener it was seen (Dirichlet priors, one after the other).
    pub fn refine(&self, context: Context, row: &mut [f32; TOKENS]) {
        for len in SHORTEST..=context.len().min(ORDER - 1) {
            let Some(list) = self.counts.get(&context.latest(len)) else {
                continue;
            };
            let seen: f32 = list.iter().map(|t| f32::from(t.1)).sum();
            row.iter_mut().for_each(|p| *p *= TRUST / (seen + TRUST));
            for &(token, count) in list {
                row[usize::from(token)] += f32::from(count) / (seen + TRUST);
            }
        }
    }

    /// The counts as bytes, for an archive to keep.
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = MAGIC.to_vec();
        for (context, list) in &self.counts {
            bytes.push(context.len() as u8);
            bytes.extend(context.iter());
            bytes.push(list.len() as u8);
            for &(token, count) in list {
                bytes.push(token);
                bytes.extend(count.to_le_bytes());
            }
        }
        bytes
    }

    /// The counts of such bytes.
    ///
    /// # Errors
    ///
    /// If they are not whole or nothing of the kind.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, LearnedError> {
        let mut rest = bytes
            .strip_prefix(MAGIC)
            .ok_or(LearnedError("they do not begin so"))?;
        let mut counts = BTreeMap::new();
        while !rest.is_empty() {
            let (context, list) = entry(&mut rest).ok_or(LearnedError("they are damaged"))?;
            counts.insert(context, list);
        }
        Ok(Self { counts })
    }
}

/// Takes one context with its counts off the bytes.
fn entry(rest: &mut &[u8]) -> Option<(Context, Vec<(Token, u16)>)> {
    let mut take = |n: usize| {
        let (taken, left) = rest.split_at_checked(n)?;
        *rest = left;
        Some(taken)
    };
    let valid = |t: &Token| usize::from(*t) < TOKENS;
    let len = usize::from(take(1)?[0]);
    let context = take(len)?;
    if !(SHORTEST..ORDER).contains(&len) || !context.iter().all(valid) {
        return None;
    }
    let context = Context::of(context);
    let count = usize::from(take(1)?[0]);
    let list: Vec<(Token, u16)> = take(3 * count)?
        .as_chunks::<3>()
        .0
        .iter()
        .map(|[t, a, b]| (*t, u16::from_le_bytes([*a, *b])))
        .collect();
    list.iter()
        .all(|(t, n)| valid(t) && *n > 0)
        .then_some((context, list))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TEXT: &str = "THE ROPEWALK NET MEETS AT THE ROPEWALK. ASK AT THE ROPEWALK DOOR.";

    fn learned(text: &str) -> Learned {
        let mut learned = Learned::default();
        learned.learn(text);
        learned
    }

    #[test]
    fn a_name_that_came_before_is_expected() {
        let learned = learned(TEXT);
        let mut row = [1.0 / TOKENS as f32; TOKENS];
        learned.refine(Context::of(&tokens("AT THE ROPEW")), &mut row);
        let a = usize::from(crate::tokens::A);
        assert!(row[a] > 0.8, "{row:?}");
        assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-5);
    }

    #[test]
    fn says_nothing_of_what_it_never_saw() {
        let row = [1.0 / TOKENS as f32; TOKENS];
        let mut after = row;
        learned(TEXT).refine(Context::of(&tokens("QUIZ")), &mut after);
        assert_eq!(row, after);
    }

    #[test]
    fn learning_in_parts_adds_up() {
        let mut twice = learned(TEXT);
        twice.learn(TEXT);
        assert_eq!(twice.contexts(), learned(TEXT).contexts());
        assert!(!twice.is_empty() && twice != learned(TEXT));
    }

    proptest! {
        #[test]
        fn bytes_keep_it_and_damage_is_told(text in "[A-E 1-3.]{0,80}", cut in 1usize..20) {
            let learned = learned(&text);
            let bytes = learned.to_bytes();
            prop_assert_eq!(Learned::from_bytes(&bytes), Ok(learned.clone()));
            let part = &bytes[..bytes.len().saturating_sub(cut)];
            // A cut between two entries leaves a smaller model.
            if let Ok(less) = Learned::from_bytes(part) {
                prop_assert!(less.contexts() < learned.contexts() || learned.is_empty());
            }
        }
    }
}
