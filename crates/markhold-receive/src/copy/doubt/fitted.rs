//! Weights of the causes of doubt, written by `--bench doubt -- --fit`.

use super::CAUSES;
use super::evidence::COUNT;

/// Offset and weights of each cause.
pub const WEIGHTS: [[f32; COUNT + 1]; CAUSES.len()] = [[0.0; COUNT + 1]; CAUSES.len()];
