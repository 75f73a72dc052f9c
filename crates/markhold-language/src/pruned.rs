//! Pruned: only those n-grams that tell more than they cost.
//!
//! An n-gram is worth the bits that its text would take more without it (in the manner of
//! K. Seymore and R. Rosenfeld, "Scalable backoff language models", ICSLP 1996). What a
//! listed n-gram begins with is listed too.

use crate::counted::{Counted, Gram};

/// Bits of a token in a packed n-gram.
const BITS: u32 = 5;

/// Drops from every order above the first what saves fewer than `least` bits of the text.
pub fn prune(counted: Counted, least: f32) -> Counted {
    let mut orders = counted.orders;
    for n in (1..orders.len()).rev() {
        let (lower, upper) = orders.split_at_mut(n + 1);
        let longer = upper.first().map_or(&[][..], Vec::as_slice);
        let mut longer = longer.iter().map(|g| g.key >> BITS).peekable();
        lower[n].retain(|gram| {
            while longer.next_if(|&k| k < gram.key).is_some() {}
            longer.peek() == Some(&gram.key) || saves(gram) > least
        });
    }
    Counted { orders }
}

/// Bits of the text that an n-gram saves.
fn saves(gram: &Gram) -> f32 {
    gram.count as f32 * (gram.p / gram.without).log2()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tokens::tokens;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_listed_begins_with_what_is_listed(
            text in "[A-D ]{20,200}", order in 2..5usize, least in 0.0f32..4.0,
        ) {
            let full = Counted::new(&tokens(&text), order);
            let pruned = prune(full.clone(), least);
            prop_assert_eq!(&pruned.orders[0], &full.orders[0]);
            for n in 1..order {
                for gram in &pruned.orders[n] {
                    prop_assert!(full.orders[n].contains(gram));
                    prop_assert!(pruned.orders[n - 1].iter().any(|g| g.key == gram.key >> BITS));
                }
            }
            prop_assert_eq!(prune(full.clone(), -1e9).orders, full.orders);
        }
    }
}
