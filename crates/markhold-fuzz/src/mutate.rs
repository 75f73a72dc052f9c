//! Bytes a little changed.

use rand::{Rng, RngExt};

/// Bytes at which readers behave otherwise.
const EDGES: [u8; 8] = [0, 1, 0x7f, 0x80, 0xff, b' ', b'\n', b'"'];
/// Numbers of four bytes at which lengths and counts go wrong.
const COUNTS: [u32; 6] = [0, 1, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff, 0x0001_0000];
/// Most changes at once.
const MOST: u32 = 6;

/// `from` with some changes, perhaps with a piece of `other`; at most `longest` bytes.
pub fn mutated(
    from: &[u8],
    other: &[u8],
    words: &[&str],
    longest: usize,
    chance: &mut impl Rng,
) -> Vec<u8> {
    let mut bytes = from.to_vec();
    for _ in 0..chance.random_range(1..=MOST) {
        change(&mut bytes, other, words, chance);
    }
    bytes.truncate(longest);
    bytes
}

fn change(bytes: &mut Vec<u8>, other: &[u8], words: &[&str], chance: &mut impl Rng) {
    let at = chance.random_range(0..=bytes.len());
    let length = 1 + chance.random_range(0..=bytes.len() - at).min(64);
    let end = (at + length).min(bytes.len());
    match chance.random_range(0..10) {
        0 if at < bytes.len() => bytes[at] ^= 1 << chance.random_range(0..8),
        1 if at < bytes.len() => bytes[at] = EDGES[chance.random_range(0..EDGES.len())],
        2 if at < bytes.len() => bytes[at] = chance.random(),
        3 => {
            let count = COUNTS[chance.random_range(0..COUNTS.len())].to_le_bytes();
            let end = (at + 4).min(bytes.len());
            bytes.splice(at..end, count);
        }
        4 => drop(bytes.drain(at..end)),
        5 => bytes.truncate(at),
        6 => {
            let piece = bytes[at..end].to_vec();
            let to = chance.random_range(0..=bytes.len());
            bytes.splice(to..to, piece);
        }
        7 if !other.is_empty() => {
            let from = chance.random_range(0..other.len());
            let to = (from + length).min(other.len());
            bytes.splice(at..end, other[from..to].iter().copied());
        }
        _ if !words.is_empty() => {
            let word = words[chance.random_range(0..words.len())].bytes();
            let end = if chance.random() { end } else { at };
            bytes.splice(at..end, word);
        }
        _ => bytes.insert(at, chance.random()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_xoshiro::Xoshiro256PlusPlus;

    #[test]
    fn what_is_made_is_short_enough_other_than_before_and_the_same_again() {
        let made = |seed| {
            let mut chance = Xoshiro256PlusPlus::seed_from_u64(seed);
            let made = (0..1000).map(|_| mutated(b"harbour", b"quay", &["mark"], 20, &mut chance));
            made.collect::<Vec<_>>()
        };
        let all = made(1);
        assert!(all.iter().all(|bytes| bytes.len() <= 20));
        assert!(all.iter().filter(|bytes| &bytes[..] != b"harbour").count() > 900);
        assert!(
            all.iter()
                .any(|bytes| bytes.windows(4).any(|w| w == b"mark"))
        );
        assert_eq!(all, made(1));
        assert_ne!(all, made(2));
    }
}
