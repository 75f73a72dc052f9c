//! The pair: one signal's two tones, followed through drift and fading.
pub mod companion;
pub mod conditions;
pub mod curve;
mod distance;
pub mod early;
pub mod follower;
mod found;
pub mod gains;
mod gaps;
mod hump;
mod joint;
pub mod jumps;
pub mod levels;
pub mod line;
mod others;
pub mod rivals;
mod shown;
pub mod spans;
pub mod speed;
pub mod start;
#[cfg(test)]
pub(crate) mod testing;
pub mod tones;
pub mod track;
mod tune;
pub mod window;
