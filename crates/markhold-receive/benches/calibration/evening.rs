//! Points of whole evenings, of every kind that the bench of kinds has.

use crate::align::align;
use crate::evenings::draw::Draw;
use crate::kinds::Kind;
use crate::listen::copy_at;
use crate::points::{Of, Point};
use markhold_receive::event::Character;
use markhold_receive::pair::conditions::Conditions;

/// All characters that a receiver copies of an evening of a kind. Which station was meant is
/// no matter of probabilities: evenings on which the user must say so have no points.
pub fn points(kind: &Kind, seed: u64) -> Vec<Point> {
    let mut draw = Draw::new(kind.name, seed);
    let evening = kind.evening(&mut draw);
    if evening.pointed {
        return Vec::new();
    }
    let recording = evening.record(&mut draw);
    let copied = copy_at(&recording.sound, recording.rate);
    let codes: Vec<u8> = copied.iter().map(|(c, _)| c.code.value()).collect();
    let (_, matches) = align(&recording.codes, &codes);
    let point = |((c, conditions), matched): ((Character, Conditions), Option<usize>)| Point {
        of: Of::Evening,
        said: f64::from(c.probability),
        conditions,
        right: matched.is_some(),
    };
    copied.into_iter().zip(matches).map(point).collect()
}
