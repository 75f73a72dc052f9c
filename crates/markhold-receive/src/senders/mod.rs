//! Sender models: the second, closer look at a window, by models that follow phase.
//!
//! 1. **lattice**: the starts that framing left possible, and the gaps between them.
//! 2. **sound**: likelihood of every element over the phase of its tone.
//! 3. **walk**: all paths of starts, codes and phases under one model, forward and backward.
//! 4. **fading**: the same by complex gains, where strength and phase change together.
//! 5. **evidence**: how well each model explains what is heard; the mixture of all.

pub mod drift;
pub mod evidence;
pub mod fading;
mod heard;
pub mod lattice;
pub mod model;
pub mod seek;
pub mod sound;
pub mod stops;
pub mod table;
#[cfg(test)]
mod testing;
pub mod tuning;
pub mod walk;
