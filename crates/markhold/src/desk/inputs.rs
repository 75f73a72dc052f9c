//! The sound inputs of this machine, as the page offers them.

use markhold_desk::inputs::NoInputs;

/// The inputs that the page offers.
pub fn inputs() -> NoInputs {
    NoInputs
}
