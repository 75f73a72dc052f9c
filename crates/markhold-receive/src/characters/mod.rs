//! Characters: start-stop framing as one sequence decision.
pub mod framing;
pub mod log_sum;
pub mod reading;
pub mod vectors;
