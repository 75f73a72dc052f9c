//! Why a character is doubtful.

use crate::characters::reading::Reading;
use crate::event::Doubt;
use crate::pair::conditions::Conditions;

/// A character at least this probable is not doubtful.
pub const SURE: f32 = 0.95;
/// Less than this share of the character heard: a crash did it.
const CRASHED: f32 = 0.85;
/// Below this energy of an element over noise density (10 dB) a tone gives doubt.
const WEAK: f32 = 10.0;
/// One tone is faded if the other has this many times its power (6 dB).
const APART: f32 = 4.0;

/// The likeliest cause of doubt in a reading of this probability; `None` if it is sure.
pub fn doubt(reading: &Reading, probability: f32, conditions: &Conditions) -> Option<Doubt> {
    if probability >= SURE {
        return None;
    }
    let [mark, space] = conditions.energy;
    let (weaker, stronger) = (mark.min(space), mark.max(space));
    let cause = match () {
        () if conditions.clear < CRASHED => Doubt::Crash,
        () if weaker < WEAK && stronger > APART * weaker => Doubt::FadeOfOneTone,
        () if stronger < 2.0 * WEAK => Doubt::Fade,
        () if reading.present < 0.9 => Doubt::Timing,
        () => Doubt::Neighbour,
    };
    Some(cause)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cause_has_its_conditions() {
        use Doubt::{Crash, Fade, FadeOfOneTone, Neighbour, Timing};
        let table = [
            // probability, present, energy of mark and space, clear; the doubt
            (0.95, 0.96, [1.0, 1.0], 0.1, None),
            (0.94, 0.96, [50.0, 50.0], 0.84, Some(Crash)),
            (0.94, 0.96, [50.0, 2.0], 0.5, Some(Crash)),
            (0.94, 0.96, [50.0, 9.0], 1.0, Some(FadeOfOneTone)),
            (0.94, 0.96, [9.0, 50.0], 1.0, Some(FadeOfOneTone)),
            (0.94, 0.96, [5.0, 0.5], 1.0, Some(FadeOfOneTone)),
            (0.94, 0.96, [5.0, 4.0], 1.0, Some(Fade)),
            (0.94, 0.96, [19.0, 19.0], 1.0, Some(Fade)),
            (0.94, 0.96, [25.0, 8.0], 1.0, Some(Neighbour)),
            (0.50, 0.60, [40.0, 40.0], 1.0, Some(Timing)),
            (0.50, 0.95, [40.0, 40.0], 1.0, Some(Neighbour)),
        ];
        for (probability, present, energy, clear, expected) in table {
            let reading = Reading {
                start: 0.0,
                spread: 0.0,
                present,
                codes: [1.0 / 32.0; 32],
            };
            let got = doubt(
                &reading,
                probability,
                &Conditions {
                    energy,
                    clear,
                    ..Conditions::default()
                },
            );
            assert_eq!(got, expected, "{probability} {present} {energy:?} {clear}");
        }
    }
}
