//! Counted: n-grams of a text with smoothed probabilities.
//!
//! Interpolated Kneser-Ney smoothing with three discounts an order (S. F. Chen and
//! J. Goodman, "An empirical study of smoothing techniques for language modeling",
//! Harvard TR-10-98, 1998, section 3): the highest order uses counts, lower orders the
//! number of different tokens before.

use crate::tokens::{BREAK, TOKENS, Token};

/// Bits of a token in a packed n-gram.
const BITS: u32 = 5;

/// One n-gram of an order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gram {
    /// Its tokens, the latest in the lowest five bits.
    pub key: u64,
    /// How often it stands in the text; for lower orders, in how many different contexts.
    pub count: u32,
    /// Probability of its last token after the others.
    pub p: f32,
    /// What the same would be if this n-gram were not listed: the next lower order's
    /// probability times the weight of that order.
    pub without: f32,
}

/// All n-grams of a text, order by order from 1; each list in ascending order of keys.
#[derive(Clone, Debug)]
pub struct Counted {
    /// Orders from 1.
    pub orders: Vec<Vec<Gram>>,
}

impl Counted {
    /// Counts and smooths n-grams up to `order` (1 to 8). Breaks stand before the text, so
    /// that all that an n-gram begins with is counted too.
    pub fn new(tokens: &[Token], order: usize) -> Self {
        let padded = [&vec![BREAK; order][..], tokens].concat();
        let mut counts = vec![counts_of(packed(&padded, order))];
        for n in (1..order).rev() {
            let mask = (1u64 << (BITS * n as u32)) - 1;
            let longer = counts.last().expect("one is there");
            counts.push(counts_of(longer.iter().map(|c| c.0 & mask).collect()));
        }
        counts.reverse();
        let mut orders: Vec<Vec<Gram>> = Vec::new();
        for (n, counts) in counts.iter().enumerate() {
            let grams = smooth(counts, n, orders.last().map(Vec::as_slice));
            orders.push(grams);
        }
        Self { orders }
    }
}

fn packed(tokens: &[Token], order: usize) -> Vec<u64> {
    let pack = |w: &[Token]| w.iter().fold(0, |key, &t| key << BITS | u64::from(t));
    tokens.windows(order).map(pack).collect()
}

/// How often each key stands there, in ascending order.
fn counts_of(mut keys: Vec<u64>) -> Vec<(u64, u32)> {
    keys.sort_unstable();
    let mut counts: Vec<(u64, u32)> = Vec::new();
    for key in keys {
        match counts.last_mut() {
            Some(last) if last.0 == key => last.1 += 1,
            _ => counts.push((key, 1)),
        }
    }
    counts
}

/// What is taken from counts of one, two, and more.
fn discounts(counts: &[(u64, u32)]) -> [f32; 3] {
    let having = |n: u32| counts.iter().filter(|c| c.1 == n).count() as f32;
    let n: Vec<f32> = (1..=4).map(having).collect();
    if n.contains(&0.0) {
        return [0.5, 0.75, 0.9];
    }
    let y = n[0] / (n[0] + 2.0 * n[1]);
    let discount =
        |k: usize| (k as f32 - (k as f32 + 1.0) * y * n[k] / n[k - 1]).clamp(0.05, k as f32 - 0.05);
    [discount(1), discount(2), discount(3)]
}

/// Smooths n-grams with `context` tokens before the last.
fn smooth(counts: &[(u64, u32)], context: usize, lower: Option<&[Gram]>) -> Vec<Gram> {
    let suffix = (1u64 << (BITS * context as u32)) - 1;
    let taken = discounts(counts);
    let discount = |count: u32| taken[count.min(3) as usize - 1];
    let mut grams = Vec::with_capacity(counts.len());
    for group in counts.chunk_by(|a, b| a.0 >> BITS == b.0 >> BITS) {
        let total: u64 = group.iter().map(|c| u64::from(c.1)).sum();
        let total = total as f32;
        let weight = group.iter().map(|c| discount(c.1)).sum::<f32>() / total;
        grams.extend(group.iter().map(|&(key, count)| {
            let without = weight * lower_p(key & suffix, lower);
            let p = (count as f32 - discount(count)) / total + without;
            Gram {
                key,
                count,
                p,
                without,
            }
        }));
    }
    grams
}

/// Probability of an n-gram's last token without its first one.
fn lower_p(suffix: u64, lower: Option<&[Gram]>) -> f32 {
    let found = lower.and_then(|l| Some(l[l.binary_search_by_key(&suffix, |g| g.key).ok()?].p));
    found.unwrap_or(1.0 / TOKENS as f32)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tokens::tokens;

    /// The slow obvious way: the formula of the reference, counted afresh for each question.
    fn obvious(text: &[Token], order: usize, gram: &[Token], taken: &[[f32; 3]]) -> f32 {
        if gram.is_empty() {
            return 1.0 / TOKENS as f32;
        }
        let n = gram.len();
        let count = |g: &[Token]| -> usize {
            if n == order {
                return text.windows(n).filter(|w| *w == g).count();
            }
            // In how many contexts of the order above it stands, which themselves count once.
            let before: std::collections::BTreeSet<&[Token]> = text
                .windows(order)
                .map(|w| &w[order - n - 1..])
                .filter(|w| w[1..] == *g)
                .collect();
            before.len()
        };
        let (context, last) = gram.split_at(n - 1);
        let of = |t: Token| count(&[context, &[t]].concat());
        let counts: Vec<usize> = (0..TOKENS as Token).map(of).collect();
        let total: usize = counts.iter().sum();
        let discount = |c: usize| {
            if c == 0 {
                0.0
            } else {
                taken[n - 1][c.min(3) - 1]
            }
        };
        let weight: f32 = counts.iter().map(|&c| discount(c)).sum::<f32>() / total as f32;
        let c = counts[usize::from(last[0])];
        (c as f32 - discount(c)) / total as f32 + weight * obvious(text, order, &gram[1..], taken)
    }

    #[test]
    fn agrees_with_the_formula() {
        let text = tokens("THE NET OPENS AT SEVEN. THE OTHER NET ENDS THEN, AND THE REST THERE.");
        let order = 3;
        let counted = Counted::new(&text, order);
        let text = [&[BREAK; 3][..], &text].concat();
        let taken: Vec<[f32; 3]> = counted
            .orders
            .iter()
            .map(|o| discounts(&o.iter().map(|g| (g.key, g.count)).collect::<Vec<_>>()))
            .collect();
        for (n, grams) in (1..).zip(&counted.orders) {
            assert!(!grams.is_empty());
            for gram in grams {
                let tokens: Vec<Token> = (0..n)
                    .rev()
                    .map(|k| (gram.key >> (BITS * k as u32) & 31) as Token)
                    .collect();
                let expected = obvious(&text, order, &tokens, &taken);
                assert!(
                    (gram.p - expected).abs() < 1e-4,
                    "{tokens:?}: {} {expected}",
                    gram.p
                );
            }
        }
    }

    #[test]
    fn counts_are_sorted_and_complete() {
        assert_eq!(counts_of(vec![5, 3, 5, 9, 5]), [(3, 1), (5, 3), (9, 1)]);
    }
}
