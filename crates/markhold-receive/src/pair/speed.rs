//! Speed: the modulation rate, measured ever better while copying.
//!
//! The search knows the rate to a percent or so. The evidence of a window, read with
//! elements a little shorter and a little longer as well, says which way the truth lies;
//! over some windows the three sums make a parabola, and its top is the rate.

use markhold_code::usual;

/// Change of the element's length on trial, as a share.
pub const TRIAL: f64 = 0.005;
/// Windows of trials before a step.
const WINDOWS: usize = 3;
/// Steps with trials in every window; then only now and then.
const EAGER_STEPS: usize = 3;
/// Windows of rest once the rate is known.
const REST: usize = 12;
/// A usual rate within this share is taken if the evidence against it is no stronger.
const SNAP_SHARE: f64 = 0.004;
const SNAP_EVIDENCE: f64 = 4.0;
/// Evidence by which the trial must bend for a step to be taken.
const LEAST_BEND: f64 = 6.0;

/// Measures the modulation rate.
#[derive(Clone, Debug, Default)]
pub struct SpeedFinder {
    sums: [f64; 3],
    windows: usize,
    steps: usize,
    rest: usize,
}

impl SpeedFinder {
    /// Whether this window should be read on trial.
    pub fn is_due(&mut self) -> bool {
        if self.rest > 0 {
            self.rest -= 1;
            return false;
        }
        true
    }

    /// Takes the evidence of one window with elements shorter by [`TRIAL`], unchanged, and
    /// longer; gives a better length of the element, s, when there is one.
    pub fn learn(&mut self, evidence: [f32; 3], element_s: f64) -> Option<f64> {
        for (sum, e) in self.sums.iter_mut().zip(evidence) {
            *sum += f64::from(e);
        }
        self.windows += 1;
        if self.windows < WINDOWS {
            return None;
        }
        let [shorter, same, longer] = self.sums;
        let bend = 2.0 * same - shorter - longer;
        if bend < LEAST_BEND {
            // Outside the parabola, or nothing heard: a slope still shows the way.
            let better = shorter.max(longer) > same + LEAST_BEND;
            let way = if longer > shorter { TRIAL } else { -TRIAL };
            self.restart(better);
            return better.then_some(element_s * (1.0 + way));
        }
        let top = (0.5 * (longer - shorter) / bend).clamp(-1.5, 1.5);
        let measured = element_s * (1.0 + TRIAL * top);
        self.restart(true);
        Some(snapped(measured, bend))
    }

    fn restart(&mut self, stepped: bool) {
        self.steps += usize::from(stepped);
        self.rest = if self.steps > EAGER_STEPS { REST } else { 0 };
        (self.sums, self.windows) = ([0.0; 3], 0);
    }
}

/// The usual rate nearby, unless the parabola of this bend argues against it.
fn snapped(element_s: f64, bend: f64) -> f64 {
    let Some(usual) = usual::nearest(&usual::RATES_BAUD, 1.0 / element_s, SNAP_SHARE) else {
        return element_s;
    };
    let off = (1.0 / usual / element_s - 1.0) / TRIAL;
    if 0.5 * bend * off * off < SNAP_EVIDENCE {
        1.0 / usual
    } else {
        element_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Evidence that falls off as a parabola around the true length.
    fn evidence(element_s: f64, truth: f64) -> [f32; 3] {
        [-TRIAL, 0.0, TRIAL].map(|d| {
            let off = (element_s * (1.0 + d) / truth - 1.0) / TRIAL;
            (100.0 - 10.0 * off * off) as f32
        })
    }

    #[test]
    fn climbs_to_the_top() {
        for truth in [0.0219, 0.0225, 0.0163] {
            let (mut finder, mut element_s) = (SpeedFinder::default(), truth * 1.009);
            for _ in 0..60 {
                if finder.is_due() {
                    element_s = finder
                        .learn(evidence(element_s, truth), element_s)
                        .unwrap_or(element_s);
                }
            }
            assert!(
                (element_s / truth - 1.0).abs() < 2e-4,
                "{element_s} for {truth}"
            );
        }
    }

    #[test]
    fn a_usual_rate_is_taken_where_nothing_argues_against_it() {
        let mut finder = SpeedFinder::default();
        let near = 0.022 * 1.0005;
        let taken = (0..3)
            .filter_map(|_| finder.learn(evidence(near, near), near))
            .last();
        assert_eq!(taken, Some(0.022));
    }

    #[test]
    fn silence_teaches_nothing() {
        let mut finder = SpeedFinder::default();
        assert!((0..10).all(|_| finder.learn([0.0; 3], 0.022).is_none()));
    }
}
