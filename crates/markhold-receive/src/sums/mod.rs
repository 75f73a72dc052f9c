//! Sums: the arithmetic of likelihoods, one by one and in long lists.
pub mod log_sum;
pub mod vectors;
