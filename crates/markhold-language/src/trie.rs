//! Trie: the model as it is kept, and the probabilities that follow a context.
//!
//! Each listed n-gram is a node with a probability of its last token and a mask of the
//! tokens that follow it. Nodes of an order stand in the order of their tokens, so that the
//! nodes that follow one stand together.
//!
//! ```text
//!   order 1     A        B        C  ...
//!             / | \      |
//!   order 2  AB AC AT    BA ...
//! ```
//!
//! What is not listed after a context has what the shorter context says, scaled so that all
//! adds up to 1.

use crate::counted::Counted;
use crate::tokens::{Context, TOKENS, Token};

/// Steps of a kept probability to one bit.
const STEPS: f32 = 4.0;
/// Least share of all that the listed tokens leave to the others.
const LEAST_LEFT: f32 = 1e-4;

/// Nodes of one order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Level {
    /// Which tokens follow each node; bit k is token k. Empty for the highest order.
    pub masks: Vec<u32>,
    /// Where the nodes that follow each node begin in the next order.
    pub first: Vec<u32>,
    /// Probability of each node's last token, quarters of a bit below 1.
    pub costs: Vec<u8>,
}

/// A character model.
#[derive(Clone, Debug, PartialEq)]
pub struct Trie {
    /// Level 0 is the one empty n-gram.
    pub(crate) levels: Vec<Level>,
}

impl Trie {
    /// The model of counted n-grams; what a listed n-gram begins with must be listed.
    pub fn new(counted: &Counted) -> Self {
        let cost = |p: f32| (-p.log2() * STEPS).round().clamp(0.0, 127.0) as u8;
        let mut levels = vec![Level {
            costs: vec![0],
            ..Level::default()
        }];
        let mut keys = vec![0u64];
        for grams in &counted.orders {
            let mut masks = vec![0u32; keys.len()];
            for gram in grams {
                let parent = keys
                    .binary_search(&(gram.key >> 5))
                    .expect("its begin is listed");
                masks[parent] |= 1 << (gram.key & 31);
            }
            levels.last_mut().expect("one is there").masks = masks;
            let costs = grams.iter().map(|g| cost(g.p)).collect();
            levels.push(Level {
                costs,
                ..Level::default()
            });
            keys = grams.iter().map(|g| g.key).collect();
        }
        Self::of_levels(levels)
    }

    /// Completes levels with their masks and costs.
    pub(crate) fn of_levels(mut levels: Vec<Level>) -> Self {
        for level in &mut levels {
            let mut first = 0u32;
            level.first = level
                .masks
                .iter()
                .map(|mask| {
                    first += mask.count_ones();
                    first - mask.count_ones()
                })
                .collect();
        }
        Self { levels }
    }

    /// The longest n-grams it lists.
    pub fn order(&self) -> usize {
        self.levels.len() - 1
    }

    /// Number of n-grams.
    pub fn grams(&self) -> usize {
        self.levels[1..].iter().map(|l| l.costs.len()).sum()
    }

    /// The longest latest part of a context after which it lists anything: all that it knows
    /// of what follows.
    pub fn known(&self, context: Context) -> Context {
        let longest = context.len().min(self.order() - 1);
        (0..=longest)
            .rev()
            .map(|len| context.latest(len))
            .find(|part| self.node(*part).is_some())
            .unwrap_or(Context::EMPTY)
    }

    /// Level and index of a context that something follows.
    fn node(&self, context: Context) -> Option<(usize, usize)> {
        let mut node = 0;
        for (level, token) in self.levels.iter().zip(context.iter()) {
            let mask = level.masks.get(node)?;
            let below = mask & ((1 << token) - 1);
            if mask >> token & 1 == 0 {
                return None;
            }
            node = (level.first[node] + below.count_ones()) as usize;
        }
        let follows = *self.levels[context.len()].masks.get(node)? != 0;
        follows.then_some((context.len(), node))
    }

    /// Probability of each token after a context; adds up to 1.
    pub fn row(&self, context: Context) -> [f32; TOKENS] {
        let mut row = [1.0 / TOKENS as f32; TOKENS];
        for len in 0..=context.len().min(self.order() - 1) {
            if let Some((level, node)) = self.node(context.latest(len)) {
                self.refine(&mut row, level, node);
            }
        }
        row
    }

    /// Takes in what one node lists.
    fn refine(&self, row: &mut [f32; TOKENS], level: usize, node: usize) {
        let (mask, first) = (
            self.levels[level].masks[node],
            self.levels[level].first[node],
        );
        let costs = &self.levels[level + 1].costs[first as usize..];
        let listed = (0..TOKENS).filter(|t| mask >> t & 1 == 1);
        let ps: Vec<(usize, f32)> = listed
            .zip(costs)
            .map(|(t, &cost)| (t, probability(cost)))
            .collect();
        let all: f32 = ps.iter().map(|p| p.1).sum();
        let before: f32 = ps.iter().map(|p| row[p.0]).sum();
        let left = match ps.len() {
            TOKENS => 0.0,
            _ => (1.0 - all).max(LEAST_LEFT),
        };
        let scale = left / (1.0 - before).max(1e-6);
        row.iter_mut().for_each(|p| *p *= scale);
        for &(t, p) in &ps {
            row[t] = p;
        }
        let total: f32 = row.iter().sum();
        row.iter_mut().for_each(|p| *p /= total);
    }

    /// Mean cost of the tokens of a text, each after all before it, bits.
    pub fn bits(&self, tokens: &[Token]) -> f64 {
        let mut context = Context::EMPTY;
        let cost = |&token: &Token| {
            let p = self.row(context)[usize::from(token)];
            context = self.known(context.then(token));
            -f64::from(p).log2()
        };
        tokens.iter().map(cost).sum::<f64>() / tokens.len() as f64
    }
}

fn probability(cost: u8) -> f32 {
    (-f32::from(cost) / STEPS).exp2()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pruned::prune;
    use crate::tokens::tokens;
    use proptest::prelude::*;

    const TEXT: &str = "THE RIBBON IS DRY AND THE RIBBON IS OLD, SO THE PRINT IS THIN. 73 AND \
        THANKS FOR THE RIBBON. THE REST IS IN THE BIN AND THE INK IS ON THE RIBBON.";

    fn trie(text: &str, order: usize, least: f32) -> Trie {
        Trie::new(&prune(Counted::new(&tokens(text), order), least))
    }

    #[test]
    fn says_what_was_counted_but_for_the_steps() {
        let counted = Counted::new(&tokens(TEXT), 4);
        let trie = Trie::new(&counted);
        for (n, grams) in (1..).zip(&counted.orders) {
            for gram in grams {
                let all: Vec<Token> = (0..n)
                    .rev()
                    .map(|k| (gram.key >> (5 * k) & 31) as Token)
                    .collect();
                let p = trie.row(Context::of(&all[..n - 1]))[usize::from(all[n - 1])];
                // A step is a quarter of a bit; adding up to 1 may move all of a row.
                assert!(
                    (p.log2() - gram.p.log2()).abs() < 0.3,
                    "{all:?}: {p} {}",
                    gram.p
                );
            }
        }
    }

    #[test]
    fn a_word_often_seen_is_expected() {
        let trie = trie(TEXT, 5, 0.5);
        let row = trie.row(Context::of(&tokens("THE RIB")));
        assert!(row[usize::from(crate::tokens::A) + 1] > 0.7, "{row:?}");
    }

    proptest! {
        #[test]
        fn rows_are_distributions_and_forget_only_what_they_need_not_know(
            text in "[A-F .]{10,120}", least in 0.0f32..3.0, seed in "[A-F ]{0,9}",
        ) {
            let trie = trie(&text, 4, least);
            let context = Context::of(&tokens(&seed));
            let row = trie.row(context);
            prop_assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-4);
            prop_assert!(row.iter().all(|p| *p > 0.0));
            prop_assert_eq!(row, trie.row(trie.known(context)));
            for token in 0..TOKENS as Token {
                let (full, short) = (context.then(token), trie.known(context).then(token));
                prop_assert_eq!(trie.known(full), trie.known(short));
            }
        }
    }
}
