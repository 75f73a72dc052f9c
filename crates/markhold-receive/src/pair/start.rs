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

/// A tone is heard from this share of the noise in one element on: with less nothing could be read.
const HEARD: f32 = 0.25;

impl PairStart {
    /// Whether both tones are heard. One alone, what a sound's beginning leaves among the lowest
    /// bins for instance, is read as characters of all marks at any rate.
    pub fn is_heard(&self) -> bool {
        (0..2).all(|k| self.power[k] > HEARD * self.noise[k])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_is_heard_where_both_of_its_tones_are() {
        let with = |power| PairStart {
            at_s: 0.0,
            rate_baud: 75.0,
            mark_hz: 188.0,
            space_hz: 397.0,
            power,
            noise: [1.0, 2.0],
        };
        assert!(with([1.0, 1.0]).is_heard());
        assert!(!with([600.0, 0.1]).is_heard());
        assert!(!with([0.1, 600.0]).is_heard());
    }
}
