//! A receiver that knows everything: for measuring what Air puts out.
#![allow(dead_code, reason = "each test file uses its own part")]

use markhold_air::{Sender, Truth};
use markhold_code::Code;

/// Random codes, the same each time (a linear congruential generator, Knuth's constants).
pub fn codes(count: usize) -> Vec<Code> {
    let mut state = 12345_u64;
    let mut next = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        Code::ALL[(state >> 59) as usize]
    };
    (0..count).map(|_| next()).collect()
}

/// Power of a steady tone in a stretch of samples, the power of a real tone of amplitude A
/// being A^2/2.
pub fn tone_power(samples: &[f32], hz: f64, rate: f64) -> f64 {
    let step = std::f64::consts::TAU * hz / rate;
    let (mut re, mut im) = (0.0, 0.0);
    for (n, &x) in samples.iter().enumerate() {
        let (sin, cos) = (step * n as f64).sin_cos();
        re += f64::from(x) * cos;
        im -= f64::from(x) * sin;
    }
    2.0 * (re * re + im * im) / (samples.len() as f64).powi(2)
}

/// Mean power of samples.
pub fn power(samples: &[f32]) -> f64 {
    samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / samples.len() as f64
}

/// The samples between two times.
pub fn between(samples: &[f32], rate: f64, from_s: f64, to_s: f64) -> &[f32] {
    let at = |t: f64| ((t * rate).ceil() as usize).min(samples.len());
    &samples[at(from_s)..at(to_s)]
}

/// Share of the code elements of the first sender that a non-coherent matched filter with
/// known timing and frequency gets wrong.
pub fn element_error_rate(samples: &[f32], rate: f64, truth: &Truth, sender: &Sender) -> f64 {
    let element_s = sender.speed.element_s();
    let (mut wrong, mut count) = (0.0, 0.0);
    for character in truth.characters(0) {
        for k in 0..5 {
            let from_s = character.start_s + (k + 1) as f64 * element_s;
            let element = between(samples, rate, from_s, from_s + element_s);
            let middle_s = from_s + element_s / 2.0;
            let [mark, space] = [truth.mark_hz(0, middle_s), truth.space_hz(0, middle_s)]
                .map(|hz| tone_power(element, hz.expect("a sender"), rate));
            wrong += f64::from((mark > space) != character.code.is_mark(k));
            count += 1.0;
        }
    }
    wrong / count
}
