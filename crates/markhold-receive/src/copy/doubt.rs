//! Why a character is doubtful.

use crate::characters::reading::Reading;
use crate::event::Doubt;
use crate::pair::window::Conditions;

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
