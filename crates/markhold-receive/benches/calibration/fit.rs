//! The map from what is claimed to what comes true, fitted.

use crate::points::Point;
use crate::regression::{Example, fit};
use markhold_receive::copy::calibration::{log_odds, variation};
use std::path::Path;

/// Fits the map's constants to points and writes them into a file.
pub fn write(points: &[Point], into: &Path) -> Result<(), String> {
    let examples: Vec<Example> = points.iter().map(example).collect();
    let [wrong, right] = &fit(&examples, 2, 0.0)[..] else {
        return Err("a fit of two classes has two lists of weights".into());
    };
    let weights: Vec<f64> = right.iter().zip(wrong).map(|(r, w)| r - w).collect();
    let source = format!(
        "//! Constants of the calibration, written by `--bench calibration -- --fit`.\n\n\
         /// Log odds added always.\n\
         pub const OFFSET: f32 = {:.3};\n\
         /// Factor on the claimed log odds.\n\
         pub const SLOPE: f32 = {:.3};\n\
         /// Log odds added for each unit by which the gains vary.\n\
         pub const VARYING: f32 = {:.3};\n\
         /// Factor on the claimed log odds added for each unit by which the gains vary.\n\
         pub const VARYING_SLOPE: f32 = {:.3};\n",
        weights[0], weights[1], weights[2], weights[3]
    );
    print!("{source}");
    std::fs::write(into, source).map_err(|e| format!("{}: {e}", into.display()))
}

fn example(point: &Point) -> Example {
    let claimed = f64::from(log_odds(point.conditions.claimed[1]));
    let varies = f64::from(variation(&point.conditions));
    Example {
        evidence: vec![claimed, varies, claimed * varies],
        class: usize::from(point.right),
        weight: 1.0,
    }
}
