//! Whose tones an over has, as a setting.

use serde::{Deserialize, Serialize};

/// Whose tones go out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TonesFrom {
    /// Those of the settings.
    #[default]
    Own,
    /// Those of the pair that is received when an over begins.
    Received,
}

/// Tones this far apart can be keyed, Hz: as `shift_hz`.
pub(super) const SHIFT_HZ: (f64, f64) = (20.0, 1000.0);
