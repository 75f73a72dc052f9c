//! Fading senders: phase and strength of both tones followed together, as complex gains.
//!
//! A table of phases ([`super::table`]) is told beforehand how strong a tone is. In fading
//! that is the hard part: where a tone passes through a notch its strength and its phase
//! change together, and both are known from the same few elements. Here a tone's gain is one
//! complex number that glides at random, and a path of starts and codes is judged by how
//! well it foretells the sound: a Kalman filter along every path, paths that foretell
//! nearly the same merged. Transitions that come early or late blur the phase of the tone to
//! come.
//!
//! 1. **motion**: how a gain glides from element to element and what it is turned by.
//! 2. **component**: what one path knows of both gains, a Gaussian.
//! 3. **mixture**: what all paths that lead to one place know.
//! 4. **coarse**: neighbouring candidates of a lattice taken for one.
//! 5. **heard**: the sound of every place of that lattice.
//! 6. **walk**: all paths, forward and backward.
//! 7. **masses**: what share of all paths goes where.

pub mod coarse;
mod component;
pub mod heard;
mod masses;
mod mixture;
pub mod motion;
pub mod walk;
