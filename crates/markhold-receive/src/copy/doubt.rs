//! Why a character is doubtful.
//!
//! What was measured around the character ([`Conditions`]) is made into some numbers of
//! about the same size ([`evidence`]); each cause weighs them in its own way, and the cause
//! with the most weight is given. The weights are those of multinomial logistic regression,
//! fitted on simulated troubles of which the cause is known:
//!
//! ```text
//!   log P(cause | evidence) = weights[cause][0] + sum of weights[cause][i] * evidence[i] + const
//! ```
//!
//! `cargo bench -p markhold-receive --bench doubt -- --fit` writes them, and without `--fit`
//! it counts, on other seeds, how often they are right.
//!
//! A lost shift is another matter: it is doubt about what a code means, and [`shift`] knows
//! how much of it there is.

pub mod evidence;
pub mod fitted;
pub mod memory;
pub mod shift;

use crate::event::Doubt;
use crate::pair::conditions::Conditions;
use evidence::evidence;
use fitted::WEIGHTS;

/// A character at least this probable is not doubtful.
pub const SURE: f32 = 0.95;

/// A character is not doubtful for its shift if that is known at least so surely.
const SHIFT_SURE: f32 = 0.9;

/// The causes that are told apart by the conditions, in the order of their weights.
pub const CAUSES: [Doubt; 7] = [
    Doubt::Fade,
    Doubt::FadeOfOneTone,
    Doubt::Crash,
    Doubt::Neighbour,
    Doubt::Gain,
    Doubt::Drift,
    Doubt::Timing,
];

/// The likeliest cause of doubt in a character: `probability` is that of its code,
/// `shift_known` that it was sent in the shift in which it is taken. `None` if both are sure.
pub fn doubt(probability: f32, shift_known: f32, conditions: &Conditions) -> Option<Doubt> {
    match () {
        () if shift_known < SHIFT_SURE.min(probability) => Some(Doubt::ShiftLost),
        () if probability < SURE => Some(cause(conditions)),
        () => None,
    }
}

/// The likeliest cause of doubt about a code.
pub fn cause(conditions: &Conditions) -> Doubt {
    let scores = scores(conditions);
    let best = (0..CAUSES.len()).fold(0, |a, b| if scores[b] > scores[a] { b } else { a });
    CAUSES[best]
}

/// Log probability of each cause, up to a number that is the same for all.
pub fn scores(conditions: &Conditions) -> [f32; CAUSES.len()] {
    let evidence = evidence(conditions);
    WEIGHTS.map(|weights| {
        let weighed = weights[1..].iter().zip(&evidence).map(|(w, e)| w * e);
        weights[0] + weighed.sum::<f32>()
    })
}
