//! Characters: start-stop framing as one sequence decision.
pub mod carry;
mod evidence;
pub mod framing;
pub mod priors;
pub mod reading;
mod recursion;
