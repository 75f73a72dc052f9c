//! Copy: what a pair's readings say, as timed characters with probabilities.
pub mod calibration;
pub mod committed;
pub mod doubt;
pub mod early;
pub mod holding;
pub mod middles;
pub mod observer;
