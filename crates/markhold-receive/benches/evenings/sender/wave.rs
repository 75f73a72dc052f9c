//! From a keyed line to two tones.

use super::{Line, Oscillator, Sender};
use crate::evenings::draw::Draw;
use markhold_transform::Complex;
use std::f64::consts::TAU;

/// In which a chirp dies, s.
const SETTLES_S: f64 = 0.006;
/// Samples between two looks at where the tones are.
const LOOK: usize = 64;

impl Sender {
    /// The two tones, `count` samples at `rate`; `off_hz` tells how far both are from their
    /// places at an instant, s.
    pub fn tones(
        &self,
        line: &Line,
        rate: f64,
        count: usize,
        off_hz: &dyn Fn(f64) -> f64,
        draw: &mut Draw,
    ) -> Vec<Complex<f32>> {
        let mut turns = [draw.range(0.0, 1.0), draw.range(0.0, 1.0)];
        let (mut place, mut off) = (0, 0.0);
        let tone = |n: usize| {
            let at_s = n as f64 / rate;
            if n.is_multiple_of(LOOK) {
                off = off_hz(at_s);
            }
            while line.stretches.get(place + 1).is_some_and(|s| s.0 <= at_s) {
                place += 1;
                if self.oscillator == Oscillator::Fresh {
                    turns = [draw.range(0.0, 1.0), draw.range(0.0, 1.0)];
                }
            }
            let (since_s, now) = line.stretches[place];
            let chirp = self.chirp_hz * (-(at_s - since_s) / SETTLES_S).exp();
            let hz = [self.mark_hz, self.space_hz].map(|hz| hz + off + chirp);
            let which = usize::from(now == Some(false));
            let two = self.oscillator == Oscillator::Two;
            turns[0] = (turns[0] + hz[if two { 0 } else { which }] / rate).fract();
            turns[1] = (turns[1] + hz[1] / rate).fract();
            let ripple = self.ripple.map_or(1.0, |r| {
                1.0 - r.depth * (0.5 + 0.5 * (TAU * r.hz * at_s).sin())
            });
            let level = now.map_or(0.0, |_| ripple * self.levels[which]);
            let turn = if two { turns[which] } else { turns[0] };
            let (sine, cosine) = (TAU * turn).sin_cos();
            Complex::new((level * cosine) as f32, (level * sine) as f32)
        };
        (0..count).map(tone).collect()
    }
}
