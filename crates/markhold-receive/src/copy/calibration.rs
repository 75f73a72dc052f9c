//! Calibration: what the evidence claims, made into probabilities that come true.
//!
//! The likelihoods of a character are exact for the model they come from, and the model is
//! not the world. In fading the gains of the tones are learnt from the same elements that
//! they then weigh, so the elements vouch for themselves, the more so the faster the gains
//! must follow. How much the gains vary is known; the log odds of the best code are taken
//! down by it:
//!
//! ```text
//!   log odds = offset + varying * v + claimed log odds * (slope + varying slope * v)
//! ```
//!
//! with `v` the standard deviation of the logarithm of the tones' power, at most 1. The map
//! rises with what is claimed, so no two codes change places. Its constants are measured:
//! `cargo bench -p markhold-receive --bench calibration -- --fit`.
//!
//! That there is a character at all is another claim, made cautious on purpose: before it
//! is vouched for it may be noise. Where [`super::holding`] lets a character through, one
//! was sent there 98 times in 100 whatever the claim, so what is calibrated is the code.

pub mod fitted;

use crate::characters::reading::Reading;
use crate::pair::conditions::Conditions;
use fitted::{OFFSET, SLOPE, VARYING, VARYING_SLOPE};

/// Nearest to certain that is believed, as a probability: what is wrong in spite of more
/// certainty than that is wrong for reasons that no likelihood knows of.
const LEAST: f32 = 1e-4;
/// Variation of the gains beyond which no more is taken down.
const MOST_VARYING: f32 = 1.0;

/// How near another code may come to the best.
const BEHIND: f32 = 0.999;

/// How much the gains vary, as far as it counts.
pub fn variation(conditions: &Conditions) -> f32 {
    conditions.varies.clamp(0.0, MOST_VARYING)
}

/// Natural logarithm of the odds of a probability.
pub fn log_odds(probability: f32) -> f32 {
    let p = probability.clamp(LEAST, 1.0 - LEAST);
    (p / (1.0 - p)).ln()
}

/// The probability that comes true where `claimed` is claimed.
pub fn calibrated(claimed: f32, conditions: &Conditions) -> f32 {
    let v = variation(conditions);
    let odds = OFFSET + VARYING * v + log_odds(claimed) * (SLOPE + VARYING_SLOPE * v);
    1.0 / (1.0 + (-odds).exp())
}

/// The reading with calibrated codes: the best as the map says, all others in the same
/// proportions as far as none overtakes it.
pub fn calibrate(reading: &mut Reading, conditions: &Conditions) {
    let best = reading.best();
    let claimed = reading.codes[best];
    let p = calibrated(claimed, conditions).max(1.0 / 32.0);
    // What is left to the others is added up: beside 1 it would be lost in the last bits.
    let others: f32 = reading.codes.iter().sum::<f32>() - claimed;
    let others = others.max((1.0 - claimed).max(f32::EPSILON));
    let scale = (1.0 - p) / others;
    for code in &mut reading.codes {
        *code = (*code * scale).min(BEHIND * p);
    }
    reading.codes[best] = p;
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn conditions(varies: f32) -> Conditions {
        Conditions {
            varies,
            ..Conditions::default()
        }
    }

    fn reading(codes: [f32; 32]) -> Reading {
        Reading {
            start: 0.0,
            spread: 0.0,
            present: 0.9,
            codes,
        }
    }

    #[test]
    fn fading_makes_claims_smaller_and_steadiness_hardly_changes_them() {
        for claimed in [0.5, 0.7, 0.9, 0.97] {
            let steady = calibrated(claimed, &conditions(0.0));
            let fading = calibrated(claimed, &conditions(0.9));
            assert!((steady - claimed).abs() < 0.07, "{claimed}: {steady}");
            assert!(fading < claimed - 0.01, "{claimed}: {fading}");
        }
    }

    #[test]
    fn certainty_and_nothing_stay_numbers() {
        for claimed in [0.0, 1.0] {
            let p = calibrated(claimed, &conditions(f32::MAX));
            assert!((0.0..=1.0).contains(&p), "{p}");
            let mut certain = reading([claimed; 32]);
            calibrate(&mut certain, &conditions(0.0));
            assert!(certain.codes.iter().all(|c| (0.0..=1.0).contains(c)));
        }
    }

    proptest! {
        #[test]
        fn the_map_rises(a in 0.0..1.0f32, b in 0.0..1.0f32, varies in 0.0..2.0f32) {
            let at = |p| calibrated(p, &conditions(varies));
            prop_assert!((a <= b) == (at(a) <= at(b)) || at(a) == at(b));
        }

        #[test]
        fn codes_keep_their_order_and_add_up_to_no_more_than_one(
            raw in proptest::collection::vec(0.001..1.0f32, 32),
            sharp in 0.5..8.0f32,
            varies in 0.0..2.0f32,
        ) {
            let powers: Vec<f32> = raw.iter().map(|r| r.powf(sharp)).collect();
            let sum: f32 = powers.iter().sum();
            let before = reading(std::array::from_fn(|c| powers[c] / sum));
            let mut after = before.clone();
            calibrate(&mut after, &conditions(varies));
            prop_assert!(after.codes.iter().sum::<f32>() <= 1.0 + 1e-4);
            prop_assert_eq!(after.present, before.present);
            prop_assert_eq!(after.best(), before.best());
            for c in 0..32 {
                for d in 0..32 {
                    let kept = before.codes[c] >= before.codes[d];
                    prop_assert!(!kept || after.codes[c] >= after.codes[d]);
                }
            }
        }
    }
}
