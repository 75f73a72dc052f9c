//! Distance: how far mark lies from space, measured ever better while copying.
//!
//! The search knows the distance to a few hertz, and phases can be followed only once it is
//! known to about one. Until then it is told by how the phase turns within the elements of
//! each tone: at 6 dB one element tells the frequency to 7 Hz, thirty seconds of them the
//! distance to half a hertz. Most senders have one of the usual distances, so that one is
//! believed until the elements argue against it.

use markhold_code::usual;
use markhold_signal::Complex32;

use super::tune::Turn;

/// Share of what is known that still counts after a window: half of it after 20 s.
const KEPT: f32 = 0.95;
/// How often a sender has one of the usual distances (as assumed).
const USUAL: f64 = 0.8;
/// How far a sender's distance is then from the usual one, Hz (standard deviation).
const USUAL_STRAY_HZ: f64 = 0.7;
/// How far the distance that the search found is off, Hz (standard deviation).
const FOUND_STRAY_HZ: f64 = 4.0;
/// A distance found within this of a usual one is taken to be that one, to begin with, Hz.
const NEAR_USUAL_HZ: f64 = 6.0;
/// While phases are followed they tell the distance better, unless they are led astray: then
/// it is off by more than this, Hz, and by so many standard deviations.
const ASTRAY: (f64, f64) = (1.5, 3.0);

/// Measures the distance of a pair's tones.
#[derive(Clone, Debug)]
pub struct DistanceFinder {
    /// Mark less space as the search found it, Hz.
    found_hz: f64,
    /// The distance from which the turning is counted, Hz.
    from_hz: f64,
    /// Turning of phase within the elements of mark and of space so far, noise powers.
    sums: [Complex32; 2],
    /// Squares of what scatters across it.
    squares: [f32; 2],
}

/// The usual distance near a distance (negative if space is the higher tone), Hz.
pub fn usual_near(distance_hz: f64) -> Option<f64> {
    let usual_hz = nearest_usual(distance_hz)?;
    ((usual_hz - distance_hz).abs() < NEAR_USUAL_HZ).then_some(usual_hz)
}

fn nearest_usual(distance_hz: f64) -> Option<f64> {
    let usual_hz = usual::nearest(&usual::SHIFTS_HZ, distance_hz.abs(), 1.0)?;
    Some(usual_hz.copysign(distance_hz))
}

impl DistanceFinder {
    /// Begins with the distance that the search found: mark less space, Hz.
    pub fn new(found_hz: f64) -> Self {
        Self {
            found_hz,
            from_hz: found_hz,
            sums: [Complex32::default(); 2],
            squares: [0.0; 2],
        }
    }

    /// Takes the turning of elements that were heard with tracks `distance_hz` apart; gives by
    /// how much that is to be changed, Hz. `phased` says that phases are being followed.
    pub fn learn(&mut self, turns: &[Turn], distance_hz: f64, element_s: f64, phased: bool) -> f64 {
        self.count_from(distance_hz, element_s);
        self.take(turns);
        let Some((by_hz, variance)) = self.measured(element_s) else {
            return 0.0;
        };
        let better_hz = self.believed(distance_hz + by_hz, variance) - distance_hz;
        let (least_hz, deviations) = ASTRAY;
        let is_astray = by_hz.abs() > least_hz.max(deviations * variance.sqrt());
        match phased && !is_astray {
            true => 0.0,
            false => better_hz,
        }
    }

    /// Counts the turning from another distance on.
    fn count_from(&mut self, distance_hz: f64, element_s: f64) {
        let moved_hz = distance_hz - self.from_hz;
        let half = (std::f64::consts::PI * element_s * moved_hz / 2.0) as f32;
        self.sums[0] *= Complex32::cis(-half);
        self.sums[1] *= Complex32::cis(half);
        self.from_hz = distance_hz;
    }

    fn take(&mut self, turns: &[Turn]) {
        for k in 0..2 {
            let sum: Complex32 = turns.iter().map(|t| t.tones[k]).sum();
            self.sums[k] = KEPT * self.sums[k] + sum;
            let direction = self.sums[k] / self.sums[k].norm().max(f32::MIN_POSITIVE);
            let across = |t: &Turn| (t.tones[k] * direction.conj()).im.powi(2);
            let squares: f32 = turns.iter().map(across).sum();
            // Squares of what counts less and less.
            self.squares[k] = KEPT * KEPT * self.squares[k] + squares;
        }
    }

    /// By how much the distance is off, Hz, and the variance of that; `None` while nothing
    /// was heard of one of the tones.
    fn measured(&self, element_s: f64) -> Option<(f64, f64)> {
        let per_hz = std::f64::consts::PI * element_s;
        let of = |k: usize| {
            let strength = self.sums[k].norm_sqr();
            let variance = self.squares[k] / strength;
            (strength > 0.0 && variance < 1.0)
                .then(|| (f64::from(self.sums[k].arg()), f64::from(variance)))
        };
        let ((mark, mark_variance), (space, space_variance)) = (of(0)?, of(1)?);
        let variance = (mark_variance + space_variance) / (per_hz * per_hz);
        Some(((mark - space) / per_hz, variance))
    }

    /// The likeliest distance, Hz, where `measured_hz` was measured: near a usual one, or
    /// near the one that was found.
    fn believed(&self, measured_hz: f64, variance: f64) -> f64 {
        let found = (self.found_hz, FOUND_STRAY_HZ.powi(2), 1.0 - USUAL);
        let usual = nearest_usual(measured_hz).map(|hz| (hz, USUAL_STRAY_HZ.powi(2), USUAL));
        let (centre_hz, stray, _) = [Some(found), usual]
            .into_iter()
            .flatten()
            .max_by(|a, b| {
                likelihood(a, measured_hz, variance).total_cmp(&likelihood(
                    b,
                    measured_hz,
                    variance,
                ))
            })
            .expect("what was found is always there");
        centre_hz + (measured_hz - centre_hz) * stray / (stray + variance)
    }
}

/// Log likelihood of a measurement where the distance strays about a centre, Hz, by a
/// variance, with a prior.
fn likelihood(
    &(centre_hz, stray, prior): &(f64, f64, f64),
    measured_hz: f64,
    variance: f64,
) -> f64 {
    let all = stray + variance;
    prior.ln() - 0.5 * all.ln() - 0.5 * (measured_hz - centre_hz).powi(2) / all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::Random;

    const ELEMENT_S: f64 = 0.022;

    /// Turns of a window of 68 elements, half of them mark, of tones that lie so far beside
    /// their tracks, Hz, at a signal to noise ratio an element (linear).
    fn turns(off_hz: [f64; 2], energy: f64, random: &mut Random) -> Vec<Turn> {
        (0..68)
            .map(|i| {
                let k = i % 2;
                let phase = std::f64::consts::PI * ELEMENT_S * off_hz[k];
                // Half of the amplitude and half of the noise in either half.
                let half = |by: f64, random: &mut Random| {
                    Complex32::from_polar(0.5 * energy.sqrt() as f32, by as f32)
                        + random.complex(0.5)
                };
                let (first, second) = (half(0.0, random), half(phase, random));
                let mut tones = [Complex32::default(); 2];
                tones[k] = second * first.conj();
                Turn {
                    at_s: 0.022 * f64::from(i as u32),
                    tones,
                }
            })
            .collect()
    }

    /// The distance after some windows of tones `true_hz` apart, found `found_hz` apart.
    fn after(windows: usize, found_hz: f64, true_hz: f64, energy: f64, seed: u64) -> f64 {
        let mut random = Random::new(seed);
        let mut finder = DistanceFinder::new(found_hz);
        let mut distance_hz = usual_near(found_hz).unwrap_or(found_hz);
        for _ in 0..windows {
            let off_hz = (true_hz - distance_hz) / 2.0;
            // Both tones besides lie 1 Hz to one side: that is no distance.
            let heard = turns([1.0 + off_hz, 1.0 - off_hz], energy, &mut random);
            distance_hz += finder.learn(&heard, distance_hz, ELEMENT_S, false);
        }
        distance_hz
    }

    #[test]
    fn any_distance_is_found_in_either_sense() {
        for (found_hz, true_hz) in [
            (168.0, 175.0),
            (-172.0, -165.0),
            (853.0, 846.0),
            (230.0, 228.0),
        ] {
            for seed in 0..4 {
                let strong = after(8, found_hz, true_hz, 30.0, seed);
                assert!(
                    (strong - true_hz).abs() < 1.0,
                    "{strong} for {true_hz}, seed {seed}"
                );
                let weak = after(20, found_hz, true_hz, 6.0, seed);
                assert!(
                    (weak - true_hz).abs() < 2.5,
                    "{weak} for {true_hz}, seed {seed}"
                );
            }
        }
    }

    #[test]
    fn a_usual_distance_is_believed_until_the_elements_argue_against_it() {
        // One window at 6 dB tells the distance to 3 Hz: less than the usual ones are worth.
        let stays = |seed: &u64| (after(1, 165.4, 170.0, 4.0, *seed) - 170.0).abs() < 1.5;
        assert!((0..20).filter(stays).count() >= 14);
        for seed in 0..10 {
            let later = after(20, -165.4, -170.0, 4.0, seed);
            assert!((later + 170.0).abs() < 1.0, "{later}, seed {seed}");
        }
        assert_eq!(usual_near(-174.0), Some(-170.0));
        assert_eq!(usual_near(184.0), None);
    }

    #[test]
    fn phases_are_left_alone_unless_they_are_astray() {
        let moved = |off_hz: f64| {
            let mut random = Random::new(7);
            let mut finder = DistanceFinder::new(170.0);
            let mut by_hz = 0.0;
            for _ in 0..10 {
                let heard = turns([off_hz / 2.0, -off_hz / 2.0], 20.0, &mut random);
                by_hz = finder.learn(&heard, 170.0, ELEMENT_S, true);
            }
            by_hz
        };
        assert_eq!(moved(0.5), 0.0);
        assert!((moved(6.0) - 6.0).abs() < 1.0, "{}", moved(6.0));
    }

    #[test]
    fn nothing_heard_moves_nothing() {
        let mut finder = DistanceFinder::new(170.0);
        assert_eq!(finder.learn(&[], 170.0, ELEMENT_S, false), 0.0);
        let mark_alone: Vec<Turn> = turns([3.0, 3.0], 20.0, &mut Random::new(1))
            .into_iter()
            .step_by(2)
            .collect();
        assert_eq!(finder.learn(&mark_alone, 170.0, ELEMENT_S, false), 0.0);
    }
}
