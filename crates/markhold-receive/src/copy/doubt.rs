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
//! A lost shift is another matter: it is doubt about what a code means, and
//! [`crate::text::shifts`] knows how much of it there is.

pub mod evidence;
pub mod fitted;
pub mod memory;

use crate::event::Doubt;
use crate::pair::conditions::Conditions;
use evidence::evidence;
use fitted::WEIGHTS;

/// A character at least this probable is not doubtful.
pub const SURE: f32 = 0.95;

/// Where a gap differs from all others by more than this, elements, there is a seam.
pub const SEAM: f32 = 0.25;

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

/// The likeliest cause of doubt in a character: `code` is the probability of its code, given
/// the shift in which it is taken, `shift` that of the shift. `None` if both together reach
/// `sure` and no seam is beside it: sound or a character may be missing there, however sure what
/// is left.
pub fn doubt(code: f32, shift: f32, sure: f32, conditions: &Conditions) -> Option<Doubt> {
    match () {
        () if code * shift >= sure => is_at_seam(conditions).then_some(Doubt::Timing),
        () if shift < code => Some(Doubt::ShiftLost),
        () => Some(cause(conditions)),
    }
}

/// Whether there is a seam before or after a character.
fn is_at_seam(conditions: &Conditions) -> bool {
    conditions.misplaced.into_iter().any(|by| by > SEAM)
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A good signal: what most characters of every trouble have in common.
    fn good() -> Conditions {
        Conditions {
            tones_hz: [1000.0, 1170.0],
            energy: [18.0; 2],
            clear: 1.0,
            least_clear: 1.0,
            other: 1.0,
            apart: 0.7,
            line: 4.0,
            off: [0.3, 0.5],
            moved_hz: 0.1,
            edges: 0.5,
            edges_usual: 0.5,
            under: [1.3; 2],
            beside: 3.4,
            varies: 0.05,
            ..Conditions::default()
        }
    }

    #[test]
    fn every_cause_is_told_by_its_marks() {
        let table = [
            (
                Doubt::Fade,
                Conditions {
                    energy: [3.0; 2],
                    ..good()
                },
            ),
            (
                Doubt::Fade,
                Conditions {
                    energy: [2.0, 2.5],
                    varies: 0.8,
                    ..good()
                },
            ),
            (
                Doubt::FadeOfOneTone,
                Conditions {
                    energy: [0.5, 7.0],
                    apart: 4.5,
                    varies: 0.9,
                    ..good()
                },
            ),
            (
                Doubt::Crash,
                Conditions {
                    clear: 0.55,
                    least_clear: 0.05,
                    ..good()
                },
            ),
            (
                // The medians of doubtful characters with a keyed carrier within the pair, as
                // simulated for `--bench doubt`.
                Doubt::Neighbour,
                Conditions {
                    energy: [17.8, 1.0],
                    apart: 8.4,
                    line: 30.0,
                    other: 1.2,
                    under: [18.0, 1.3],
                    beside: 3.6,
                    edges: 1.0,
                    edges_usual: 1.0,
                    ..good()
                },
            ),
            (
                Doubt::Gain,
                Conditions {
                    energy: [1.0; 2],
                    turned_down_db: 25.0,
                    pumping_db: 0.6,
                    ..good()
                },
            ),
            (
                Doubt::Drift,
                Conditions {
                    moved_hz: 35.0,
                    off: [6.0, 2.5],
                    other: 2.0,
                    ..good()
                },
            ),
            (
                Doubt::Timing,
                Conditions {
                    edges: 5.5,
                    edges_usual: 5.0,
                    other: 1.4,
                    under: [1.9; 2],
                    ..good()
                },
            ),
        ];
        for (expected, conditions) in table {
            assert_eq!(cause(&conditions), expected, "{conditions:?}");
        }
    }

    #[test]
    fn what_is_sure_has_no_cause_and_the_greater_doubt_is_told() {
        let weak = Conditions {
            energy: [3.0; 2],
            ..good()
        };
        let table = [
            // probability of the code, and of its shift; the doubt
            (0.95, 1.0, None),
            (0.99, 0.97, None),
            (0.94, 1.0, Some(Doubt::Fade)),
            (0.9, 0.97, Some(Doubt::Fade)),
            (0.5, 0.6, Some(Doubt::Fade)),
            (0.99, 0.6, Some(Doubt::ShiftLost)),
            (0.7, 0.6, Some(Doubt::ShiftLost)),
        ];
        for (code, shift, expected) in table {
            let got = doubt(code, shift, SURE, &weak);
            assert_eq!(got, expected, "{code} {shift}");
        }
        assert_eq!(doubt(0.97, 1.0, 0.99, &weak), Some(Doubt::Fade));
    }
}
