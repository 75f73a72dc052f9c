//! How the tones stray from where they should be, and the dial that is turned.

use super::draw::Draw;

/// Everything that moves both tones alike.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stray {
    /// Steadily, Hz a second.
    pub drift_hz_per_s: f64,
    /// A random walk: standard deviation after one second, Hz.
    pub wander_hz: f64,
    /// Jumps of at most so many Hz either way.
    pub jump_hz: f64,
    /// Mean time between jumps, s.
    pub every_s: f64,
}

/// Points a second; straight lines between.
const GRID_HZ: f64 = 50.0;

impl Stray {
    /// Where the tones are beside their place at each instant, Hz: zero on average, as
    /// somebody would have tuned.
    pub fn track(self, seconds: f64, draw: &mut Draw) -> impl Fn(f64) -> f64 + use<> {
        let mut at = 0.0;
        let mut jumps_s = draw.waiting(self.every_s);
        let step = |k: usize| {
            let walk = self.wander_hz / GRID_HZ.sqrt() * draw.gauss()[0];
            at += self.drift_hz_per_s / GRID_HZ + walk;
            if self.jump_hz > 0.0 && k as f64 / GRID_HZ > jumps_s {
                jumps_s += draw.waiting(self.every_s);
                // About its place, not ever further off.
                at = draw.range(-self.jump_hz, self.jump_hz);
            }
            at
        };
        let mut steps: Vec<f64> = (0..(seconds * GRID_HZ) as usize + 2).map(step).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        steps.iter_mut().for_each(|s| *s -= mean);
        move |at_s| {
            let (k, part) = ((at_s * GRID_HZ) as usize, (at_s * GRID_HZ).fract());
            steps[k] * (1.0 - part) + steps[k + 1] * part
        }
    }
}
