//! How wrong a copy is, and what others would have made of the same.

use markhold_code::Code;
use markhold_join::{Joint, Shares};

use crate::air::Simulated;

/// Changes that make one of the other: missing, extra and wrong codes.
pub fn distance(a: &[Code], b: &[Code]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut slant = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let other = slant + usize::from(x != y);
            slant = row[j + 1];
            row[j + 1] = other.min(row[j] + 1).min(slant + 1);
        }
    }
    row[b.len()]
}

pub fn best(shares: &Shares) -> Code {
    let at = (0..32).fold(0, |a, b| if shares[b] > shares[a] { b } else { a });
    Code::ALL[at]
}

/// One copy as it is.
pub fn alone(copy: &Simulated) -> Vec<Code> {
    let slots = copy.copied.slots.iter().filter(|s| s.present >= 0.5);
    slots.map(|s| best(&s.codes)).collect()
}

/// The joint copy.
pub fn joined(joint: &Joint) -> Vec<Code> {
    let there = joint.characters.iter().filter(|c| c.present >= 0.5);
    there.map(|c| c.code()).collect()
}

/// What most bearers say, where at least half of the copies have something: alignment without
/// likelihoods.
pub fn voted(joint: &Joint, copies: &[Simulated]) -> Vec<Code> {
    let vote = |c: &markhold_join::JointCharacter| {
        let mut votes = [0usize; 32];
        let said = c
            .bearers()
            .filter_map(|k| Some(&copies[k].copied.slots[c.slots[k]?]));
        said.for_each(|s| votes[usize::from(best(&s.codes).value())] += 1);
        let passed = c.passed.iter().filter(|p| **p).count();
        let most = (0..32).fold(0, |a, b| if votes[b] > votes[a] { b } else { a });
        (2 * votes.iter().sum::<usize>() >= passed).then_some(Code::ALL[most])
    };
    joint.characters.iter().filter_map(vote).collect()
}

/// Likelihoods added where it is known which slot is which character: no alignment can do
/// better. Nothing stands where no copy has the character.
pub fn known(length: usize, copies: &[Simulated]) -> Vec<Code> {
    let mut sums: Vec<Option<[f64; 32]>> = vec![None; length];
    for copy in copies {
        for (slot, truth) in copy.copied.slots.iter().zip(&copy.truth) {
            let Some(at) = truth else { continue };
            let sums = sums[*at].get_or_insert([0.0; 32]);
            let total: f32 = slot.codes.iter().sum();
            for (sum, c) in sums.iter_mut().zip(slot.codes) {
                *sum += f64::from(c / total).max(1e-30).ln();
            }
        }
    }
    let best = |s: [f64; 32]| Code::ALL[(0..32).fold(0, |a, b| if s[b] > s[a] { b } else { a })];
    sums.into_iter().flatten().map(best).collect()
}
