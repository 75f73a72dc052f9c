//! What must be known of a pair to follow it.

/// What must be known of a pair to follow it.
#[derive(Clone, Debug, PartialEq)]
pub struct PairStart {
    /// Where to begin, s.
    pub at_s: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
    /// Tone of mark, Hz.
    pub mark_hz: f64,
    /// Tone of space, Hz.
    pub space_hz: f64,
    /// Power of each tone while sent, mark first, in units of the narrow streams.
    pub power: [f32; 2],
    /// Noise power in one element, mark first.
    pub noise: [f32; 2],
}
