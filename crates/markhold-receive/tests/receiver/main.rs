//! What the receiver does with whole signals, from sound to characters.
//!
//! One program, so that it is linked once; each module is one idea.

mod distorted;
mod early;
mod ending;
mod forced;
mod hear;
mod held;
mod hostile;
mod language;
mod laws;
mod printing;
mod probabilities;
#[path = "../../benches/common/score.rs"]
mod score;
mod scoring;
mod several;
mod sparse;
mod sweep;
#[path = "../../benches/common/text.rs"]
mod text;
mod usual;
