//! Found: where a pair stood when it was found, and what stood elsewhere then.
//!
//! What a signal sent before it was found is read afterwards, from where it may have begun. Until then its
//! tones are not there, and a neighbour's are as good a pair of humps. But the neighbour stands there
//! still where the pair is found, beside it; a pair that jumped has gone from where it was.

use markhold_signal::Band;

use super::hump::{frames, hump_power};
use super::others::Frame;

/// For so long before a pair was found it is looked who else is there, s: half of what a trial
/// listens to, in which the pair surely was where it was found.
const FOUND_S: f64 = 4.0;
/// Places so far to either side are known, Hz: three times what a jump can be. Beyond that nothing
/// is the pair's.
const KNOWN_HZ: f64 = 240.0;
/// A place is taken that is filled as much as this on the way from the emptiest place to the pair itself,
/// as logarithm.
const FILLED: f32 = 0.5;
/// A tone's own spectrum is the same to either side: nearer than the modulation rate a place is taken
/// that holds so much more than its mirror image, natural logarithm of both tones: 6 dB each. An equal
/// neighbour 60 Hz away has 9 dB, a drift of 3 Hz a second 4 dB.
const UNEVEN: f32 = 2.8;

/// That a pair was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Up to where sound had been heard, s.
    pub at_s: f64,
    /// Its tones then, mark and space, Hz.
    pub tones_hz: [f64; 2],
}

/// Places that are somebody else's, of the first tone, as bins of the band.
pub struct Taken {
    first: i64,
    places: Vec<bool>,
}

impl Found {
    /// The places where a pair of this shift stood too when this one was found; `None` where that one had
    /// only just come, so that who stood elsewhere may have been itself. `noise` is Hann power in a
    /// bin at each tone.
    pub fn taken(&self, band: &Band, noise: [f32; 2], rate_hz: f64) -> Option<Taken> {
        let plan = band.plan();
        let bin = |hz: f64| (hz / plan.bin_hz()).round() as i64;
        let from_s = (self.at_s - FOUND_S).max(0.0);
        let first = plan.frame_holding((from_s * plan.rate_hz) as i64);
        let then = frames(band, first.max(band.oldest_frame()), self.at_s);
        let filled_in = |then: &[Frame], by: i64| -> f32 {
            let hump =
                |k: usize, bins| hump_power(bins, bin(self.tones_hz[k]) + by, |_| noise[k]).ln_1p();
            let sum: f32 = then.iter().map(|f| hump(0, f.1) + hump(1, f.1)).sum();
            sum / then.len().max(1) as f32
        };
        let (reach, own) = (bin(KNOWN_HZ), bin(rate_hz));
        let filled: Vec<f32> = (-reach..=reach).map(|by| filled_in(&then, by)).collect();
        let empty = filled.iter().copied().fold(f32::INFINITY, f32::min);
        let much = empty + FILLED * (filled[reach as usize] - empty);
        if filled_in(&then[..then.len() / 2], 0) < much {
            return None;
        }
        let is_taken = |by: i64| {
            let at = |by: i64| filled[(by + reach) as usize];
            match by.abs() > own {
                true => at(by) > much,
                false => at(by) > at(-by) + UNEVEN,
            }
        };
        Some(Taken {
            first: bin(self.tones_hz[0]) - reach,
            places: (-reach..=reach).map(is_taken).collect(),
        })
    }
}

impl Taken {
    /// Makes impossible what is somebody else's, in scores of one place after another from bin `first` on.
    pub fn bar(&self, scores: &mut [f32], first: i64) {
        for (place, score) in (first..).zip(scores) {
            let known = usize::try_from(place - self.first).ok();
            if known.and_then(|k| self.places.get(k)) != Some(&false) {
                *score = f32::NEG_INFINITY;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, Random, levelled, sound};
    use markhold_signal::BandPlan;

    const NOISE: f64 = 0.05;
    const TONES_HZ: [f64; 2] = [1000.0, 1085.0];

    /// Which places so far from a pair are taken when it is found at 8 s, having come from so far
    /// at `came_s`, with another pair of that level so far beside it.
    fn taken(
        (came_s, from_hz): (f64, f64),
        by_hz: f64,
        level: f64,
        places_hz: &[f64],
    ) -> Option<Vec<bool>> {
        let mut random = Random::new(9);
        let keys: Vec<[bool; 2]> = (0..400)
            .map(|_| [0, 1].map(|_| random.uniform() < 0.5))
            .collect();
        let sound = levelled(&sound(8.0, NOISE, |t| {
            let [ours, theirs] = keys[(t * 50.0) as usize].map(usize::from);
            let tone = |hz: f64| (std::f64::consts::TAU * hz * t).cos();
            let from_hz = if t < came_s { from_hz } else { 0.0 };
            0.1 * tone(TONES_HZ[ours] + from_hz) + level * tone(TONES_HZ[theirs] + by_hz)
        }));
        let plan = BandPlan::new(RATE_HZ);
        let noise = [(1.5 * plan.frame as f64 * NOISE * NOISE) as f32; 2];
        let found = Found {
            at_s: 8.0,
            tones_hz: TONES_HZ,
        };
        let taken = found.taken(sound.band(), noise, 50.0)?;
        let is_taken = |hz: &f64| {
            let mut score = [0.0];
            taken.bar(
                &mut score,
                ((TONES_HZ[0] + hz) / plan.bin_hz()).round() as i64,
            );
            score[0] < 0.0
        };
        Some(places_hz.iter().map(is_taken).collect())
    }

    #[test]
    fn a_neighbours_place_is_taken() {
        for by_hz in [-190.0, -105.0, -70.0, 70.0, 105.0, 190.0] {
            for level in [0.05, 0.1, 0.2] {
                let of = taken((3.0, -60.0), by_hz, level, &[by_hz, 0.0, -0.6 * by_hz]);
                assert_eq!(of, Some(vec![true, false, false]), "{by_hz} Hz, {level}");
            }
        }
    }

    #[test]
    fn where_the_pair_itself_came_from_is_not_taken() {
        assert_eq!(
            taken((3.0, -60.0), 190.0, 0.1, &[-60.0, -30.0, 30.0]),
            Some(vec![false; 3])
        );
    }

    #[test]
    fn what_is_too_far_is_none_of_its_places() {
        assert_eq!(
            taken((3.0, -60.0), 190.0, 0.0, &[-300.0, 300.0]),
            Some(vec![true; 2])
        );
    }

    #[test]
    fn who_stood_elsewhere_is_not_known_where_the_pair_has_only_just_come() {
        assert_eq!(taken((6.8, -200.0), 190.0, 0.0, &[0.0]), None);
    }
}
