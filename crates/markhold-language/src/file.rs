//! The model's file.
//!
//! ```text
//!   "MKL1"   order, one byte
//!   deflate: for each order from 1: number of nodes, 4 bytes, little-endian
//!            four planes of the masks of all nodes that may be followed: lowest bytes first
//!            costs of all nodes
//! ```

use miniz_oxide::deflate::compress_to_vec;
use miniz_oxide::inflate::decompress_to_vec_with_limit;

use crate::tokens::TOKENS;
use crate::trie::{Level, Trie};

const MAGIC: &[u8; 4] = b"MKL1";
/// No model is larger than this unpacked, bytes.
const LIMIT: usize = 1 << 28;
/// The squeeze is done once and read often.
const LEVEL: u8 = 10;

/// Bytes that are no model.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is no language model: {0}; take the file that the train command wrote")]
pub struct FileError(&'static str);

impl Trie {
    /// The model as bytes.
    pub fn to_bytes(&self) -> Vec<u8> {
        let order = self.order();
        let mut raw: Vec<u8> = Vec::new();
        for level in &self.levels[1..] {
            raw.extend((level.costs.len() as u32).to_le_bytes());
        }
        let masks = || self.levels[..order].iter().flat_map(|l| &l.masks);
        for plane in 0..4 {
            raw.extend(masks().map(|mask| mask.to_le_bytes()[plane]));
        }
        raw.extend(self.levels[1..].iter().flat_map(|l| &l.costs));
        let mut bytes = MAGIC.to_vec();
        bytes.push(order as u8);
        bytes.extend(compress_to_vec(&raw, LEVEL));
        bytes
    }

    /// The model of such bytes.
    ///
    /// # Errors
    ///
    /// If they are not whole or not a model.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, FileError> {
        let (head, packed) = bytes
            .split_at_checked(5)
            .ok_or(FileError("it is too short"))?;
        if head[..4] != *MAGIC || !(1..=8).contains(&head[4]) {
            return Err(FileError("it does not begin as one"));
        }
        let raw =
            decompress_to_vec_with_limit(packed, LIMIT).map_err(|_| FileError("it is damaged"))?;
        let levels = levels(&raw, usize::from(head[4])).ok_or(FileError("its parts do not fit"))?;
        Ok(Self::of_levels(levels))
    }
}

fn levels(raw: &[u8], order: usize) -> Option<Vec<Level>> {
    let (sizes, rest) = raw.split_at_checked(4 * order)?;
    let mut counts = vec![1usize];
    counts.extend(
        sizes
            .as_chunks::<4>()
            .0
            .iter()
            .map(|c| u32::from_le_bytes(*c) as usize),
    );
    let inner: usize = counts[..order].iter().sum();
    let (planes, costs) = rest.split_at_checked(inner.checked_mul(4)?)?;
    let mask = |i: usize| u32::from_le_bytes([0, 1, 2, 3].map(|plane| planes[plane * inner + i]));
    let (mut at_mask, mut at_cost) = (0, 0);
    let mut levels = vec![Level {
        costs: vec![0],
        ..Level::default()
    }];
    for n in 0..order {
        levels[n].masks = (at_mask..at_mask + counts[n]).map(mask).collect();
        at_mask += counts[n];
        let following: usize = levels[n]
            .masks
            .iter()
            .map(|m| m.count_ones() as usize)
            .sum();
        let strange = levels[n].masks.iter().any(|m| m >> TOKENS != 0);
        if strange || following != counts[n + 1] {
            return None;
        }
        let costs = costs.get(at_cost..at_cost + following)?.to_vec();
        at_cost += following;
        levels.push(Level {
            costs,
            ..Level::default()
        });
    }
    (at_cost == costs.len()).then_some(levels)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::counted::Counted;
    use crate::tokens::tokens;
    use proptest::prelude::*;

    fn trie() -> Trie {
        Trie::new(&Counted::new(
            &tokens("OVER AND OVER AGAIN THE OVEN IS OVEREATEN."),
            4,
        ))
    }

    #[test]
    fn what_is_written_is_read() {
        let trie = trie();
        assert_eq!(Trie::from_bytes(&trie.to_bytes()), Ok(trie));
    }

    proptest! {
        #[test]
        fn damage_is_told_or_harmless(at in 0usize..400, to: u8, cut in 0usize..400) {
            let mut bytes = trie().to_bytes();
            let n = bytes.len();
            bytes[at % n] = to;
            bytes.truncate(n - cut % n);
            if let Ok(read) = Trie::from_bytes(&bytes) {
                let row = read.row(crate::tokens::Context::of(&tokens("OVER")));
                prop_assert!(row.iter().all(|p| p.is_finite()));
            }
        }
    }
}
