//! What a copy says: slots with shares of all codes.

use markhold_code::Code;

/// How likely each code is, by its value.
pub type Shares = [f32; Code::COUNT];

/// Least share that a slot gives any code: shares below 1e-4 are not kept, and what is wrong
/// in spite of more certainty than that is wrong for reasons that no likelihood knows of.
const LEAST: f32 = 1e-4;

/// One place where a copy has a character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    /// Probability of each code by this copy alone, all codes being alike before, given that
    /// one was sent. Need not add up to 1.
    pub codes: Shares,
    /// Probability that a character was sent here at all, 0 to 1.
    pub present: f32,
    /// Probability that it was sent in figures, 0 to 1: figures are what bulletins differ in.
    pub figures: f32,
}

/// One copy: its slots in the order in which they were sent.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Copied {
    /// The slots.
    pub slots: Vec<Slot>,
}

impl Copied {
    /// How much it says, bits: what its slots know of their codes.
    pub fn information(&self) -> f32 {
        let of = |slot: &Slot| slot.present * (5.0 - entropy(&likelihoods(&slot.codes)));
        self.slots.iter().map(of).sum()
    }
}

/// Shares as likelihoods that add up to 1, none of them [`LEAST`] or less; what is no number
/// counts as nothing.
pub(crate) fn likelihoods(codes: &Shares) -> Shares {
    let clean = codes.map(|c| if c > 0.0 && c.is_finite() { c } else { 0.0 });
    let sum: f32 = clean.iter().sum();
    if sum <= 0.0 {
        return [1.0 / Code::COUNT as f32; Code::COUNT];
    }
    normal(&clean.map(|c| c / sum + LEAST))
}

/// The same shares, adding up to 1.
pub(crate) fn normal(shares: &Shares) -> Shares {
    let sum: f32 = shares.iter().sum();
    shares.map(|s| s / sum.max(f32::MIN_POSITIVE))
}

/// The place of the greatest.
pub(crate) fn best(shares: &Shares) -> usize {
    (0..Code::COUNT).fold(0, |a, b| if shares[b] > shares[a] { b } else { a })
}

/// How often each code is sent, as far as the copies say: what two copies share by chance
/// weighs less where it is common. A hundredth is shared out evenly.
pub(crate) fn frequencies<'a>(slots: impl Iterator<Item = &'a Slot>) -> Shares {
    let mut sums = [0.0f32; Code::COUNT];
    for slot in slots {
        for (sum, p) in sums.iter_mut().zip(likelihoods(&slot.codes)) {
            *sum += slot.present * p;
        }
    }
    let total: f32 = sums.iter().sum();
    let even = 1.0 / Code::COUNT as f32;
    match total > 0.0 {
        true => sums.map(|s| 0.99 * s / total + 0.01 * even),
        false => [even; Code::COUNT],
    }
}

/// Entropy, bits.
fn entropy(shares: &Shares) -> f32 {
    let of = |p: &f32| if *p > 0.0 { -p * p.log2() } else { 0.0 };
    shares.iter().map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn anything_becomes_likelihoods() {
        let mut wild = [0.0; 32];
        wild[..5].copy_from_slice(&[f32::NAN, f32::INFINITY, -1.0, 3.0, 1.0]);
        for codes in [wild, [0.0; 32], [f32::NAN; 32]] {
            let l = likelihoods(&codes);
            assert!((l.iter().sum::<f32>() - 1.0).abs() < 1e-5);
            assert!(l.iter().all(|p| *p >= LEAST / 2.0));
        }
        let l = likelihoods(&wild);
        assert!((l[3] / l[4] - 3.0).abs() < 0.01 && best(&l) == 3);
    }

    #[test]
    fn a_certain_slot_knows_five_bits_and_an_even_one_none() {
        let slot = |codes| Copied {
            slots: vec![Slot {
                codes,
                present: 1.0,
                figures: 0.0,
            }],
        };
        let mut certain = [0.0; 32];
        certain[7] = 1.0;
        assert!(slot(certain).information() > 4.9);
        assert!(slot([1.0; 32]).information().abs() < 1e-3);
    }
}
