//! The live path on sound made here: the same copy as without it, nothing lost, nothing
//! twice.

mod commands;
mod followed_pair;
mod gaps;
mod paper;
mod played;
mod rooms;
mod same_copy;
