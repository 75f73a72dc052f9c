//! Points: what was said of characters, and whether it came true.

use crate::cases::Case;
use crate::listen::{copy, render, sent_there};
use markhold_receive::event::Character;
use markhold_receive::pair::conditions::Conditions;

/// Where a character was copied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// In a case whose tones are steady.
    Steady,
    /// In a case whose tones fade.
    Fading,
    /// On an evening of some kind.
    Evening,
}

/// One copied character.
#[derive(Clone, Copy, Debug)]
pub struct Point {
    /// Where it was copied.
    pub of: Of,
    /// The probability given.
    pub said: f64,
    /// Under what conditions it was received.
    pub conditions: Conditions,
    /// Whether its code was sent there: in a case within half an element of where it was copied,
    /// on an evening in its place among all codes. In which shift it was taken is another matter.
    pub right: bool,
}

impl Point {
    /// The probability that the evidence claims, before calibration.
    pub fn claimed(&self) -> f64 {
        let [present, code] = self.conditions.claimed;
        f64::from(present * code)
    }
}

/// All characters that a receiver copies of a case.
pub fn points(case: &Case, seed: u64) -> Vec<Point> {
    let (sound, sent) = render(&[case.scene(seed)]);
    let point = |(c, conditions): (Character, Conditions)| Point {
        of: match case.fades() {
            true => Of::Fading,
            false => Of::Steady,
        },
        said: f64::from(c.probability),
        conditions,
        right: sent_there(&c, &sent).is_some_and(|s| s.character.code == c.code),
    };
    copy(&sound).into_iter().map(point).collect()
}

/// Characters of which about the same was said.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tenth {
    /// How many.
    pub count: usize,
    /// Mean of what was said.
    pub said: f64,
    /// Share that were right.
    pub right: f64,
}

impl Tenth {
    /// What is said too much, in hundredths.
    pub fn off(&self) -> f64 {
        100.0 * (self.said - self.right)
    }

    /// How much of that may be chance: two standard deviations if all were independent,
    /// which characters of one fade are not.
    pub fn chance(&self) -> f64 {
        200.0 * (self.right * (1.0 - self.right) / self.count.max(1) as f64).sqrt()
    }
}

/// The points by tenths of what `say` says.
pub fn tenths<'a>(
    points: impl Iterator<Item = &'a Point>,
    say: impl Fn(&Point) -> f64,
) -> [Tenth; 10] {
    let mut tenths = [Tenth::default(); 10];
    for point in points {
        let said = say(point);
        let tenth = &mut tenths[((10.0 * said) as usize).min(9)];
        tenth.count += 1;
        tenth.said += said;
        tenth.right += f64::from(u8::from(point.right));
    }
    for tenth in &mut tenths {
        let count = tenth.count.max(1) as f64;
        (tenth.said, tenth.right) = (tenth.said / count, tenth.right / count);
    }
    tenths
}
