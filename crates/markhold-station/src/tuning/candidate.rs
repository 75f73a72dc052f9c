//! A pair that may become the subject: for how long it has been one sender at one place.

use super::subject::SAME_HZ;
use crate::instruments::spectra::PER_SECOND;
use markhold_code::usual::SHIFTS_HZ;

/// For so many spectra in a row the tones of a pair must take turns before it is one's own, unless the
/// receiver follows it: 0.4 s at a usual distance that no sideband of keying has, else 2 s.
const USUAL_FOR: u32 = 2 * PER_SECOND / 5;
const ODD_FOR: u32 = 2 * PER_SECOND;
/// Sidebands of keying may be as far apart from their tone, Hz.
const SIDEBAND_HZ: f64 = 130.0;
/// A distance is a usual one within this, Hz: two places, each some Hz off.
const USUAL_HZ: f64 = 14.0;

/// Watches the pair of the fast sight.
#[derive(Clone, Copy, Debug, Default)]
pub struct Candidate {
    // state
    /// Spectra since which it has been one sender at the same place, and where.
    one_for: u32,
    one_hz: [f64; 2],
}

impl Candidate {
    /// Takes the pair, if it is one sender in this spectrum.
    pub fn watch(&mut self, pair_hz: Option<[f64; 2]>) {
        let Some(pair) = pair_hz else {
            self.one_for = 0;
            return;
        };
        let stayed = (0..2).all(|k| (pair[k] - self.one_hz[k]).abs() < SAME_HZ);
        self.one_for = if stayed { self.one_for + 1 } else { 1 };
        self.one_hz = pair;
    }

    /// The pair, lower tone first, Hz, once it is plain that it is one sender.
    pub fn pair_hz(&self) -> Option<[f64; 2]> {
        let apart_hz = self.one_hz[1] - self.one_hz[0];
        let near = |usual: f64| (usual - apart_hz).abs() < USUAL_HZ;
        let enough = match apart_hz > SIDEBAND_HZ && SHIFTS_HZ.into_iter().any(near) {
            true => USUAL_FOR,
            false => ODD_FOR,
        };
        (self.one_for >= enough).then_some(self.one_hz)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(spectra: u32, pair_hz: [f64; 2]) -> Option<[f64; 2]> {
        let mut candidate = Candidate::default();
        (0..spectra).for_each(|_| candidate.watch(Some(pair_hz)));
        candidate.pair_hz()
    }

    #[test]
    fn a_usual_distance_is_believed_sooner() {
        let (usual, odd) = ([1415.0, 1585.0], [1415.0, 1660.0]);
        assert_eq!(after(USUAL_FOR - 1, usual), None);
        assert_eq!(after(USUAL_FOR, usual), Some(usual));
        assert_eq!(after(ODD_FOR - 1, odd), None);
        assert_eq!(after(ODD_FOR, odd), Some(odd));
    }

    #[test]
    fn another_place_begins_anew() {
        let mut candidate = Candidate::default();
        for k in 0..2 * ODD_FOR {
            let hz = if k % 5 == 0 { 900.0 } else { 1415.0 };
            candidate.watch(Some([hz, hz + 170.0]));
        }
        assert_eq!(candidate.pair_hz(), None);
    }
}
