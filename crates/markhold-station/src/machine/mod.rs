//! The machine: an old page printer, and the ways to its line.
//!
//! A [`Keyer`] takes five-unit codes and makes a line of them, one character at a time
//! and at line speed.
//!
//! **Caution.** The loop of an old machine carries up to 180 V and can kill; its motor
//! runs on mains, its type basket and carriage can catch fingers, hair and ties; a keyed
//! transmitter is on the air. Wire with the power off, discharged and fused, and keep
//! the computer apart from the loop by an opto-coupler or a relay rated for it, so wired
//! that the line falls to mark when nothing drives it. Do it only if you are competent;
//! local electrical codes, your licence and licensed practice come before anything said
//! here.

mod keyer;

pub use keyer::{Keyer, KeyerError};
