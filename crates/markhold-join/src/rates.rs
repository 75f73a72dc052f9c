//! How often copies lose, invent and differ. Orders of size, not counts: the follower loses
//! and invents some characters in a hundred where a signal is weak, and fades cost runs.

/// Share of the characters sent that a copy loses, and of its slots that nobody sent, first of
/// a run.
pub(crate) const LOST: f32 = 0.02;
/// Probability that the run goes on: fades take many characters, noise gives few.
pub(crate) const LOST_ON: f32 = 0.7;
pub(crate) const INVENTED_ON: f32 = 0.3;
/// Probability that what two copies say at one place differs on purpose: letters, and figures
/// (date, serial, time, price and frequency are what changes from night to night).
pub(crate) const DIFFER: [f32; 2] = [0.003, 0.1];
/// A copy is sure of a code above this, and the joint copy not in doubt.
pub const SURE: f32 = 0.95;

/// Probability that a place differs on purpose, of which so much is figures.
pub(crate) fn differ(figures: f32) -> f32 {
    let f = figures.clamp(0.0, 1.0);
    DIFFER[0] * (1.0 - f) + DIFFER[1] * f
}
