//! Constants of the calibration, written by `--bench calibration -- --fit`.

/// Log odds added always.
pub const OFFSET: f32 = -0.060;
/// Factor on the claimed log odds.
pub const SLOPE: f32 = 0.898;
/// Log odds added for each unit by which the gains vary.
pub const VARYING: f32 = -0.066;
/// Factor on the claimed log odds added for each unit by which the gains vary.
pub const VARYING_SLOPE: f32 = -0.076;
