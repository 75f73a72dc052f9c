//! The live path on sound made here: the same copy as without it, nothing lost, nothing
//! twice.

mod gaps;
mod played;
mod same_copy;
