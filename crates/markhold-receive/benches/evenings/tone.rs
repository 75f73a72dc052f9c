//! A tone whose level and frequency are told for each instant.

use super::draw::Draw;
use std::f64::consts::TAU;

/// The amplitude of a level in dB, 1 being 0 dB.
pub fn amplitude(level_db: f64) -> f64 {
    10_f64.powf(level_db / 20.0)
}

/// Adds a tone to the sound; `on` gives amplitude and frequency, Hz, at an instant, s.
pub fn add(sound: &mut [f32], rate: f64, draw: &mut Draw, mut on: impl FnMut(f64) -> (f64, f64)) {
    let mut turn = draw.range(0.0, 1.0);
    for (n, sample) in sound.iter_mut().enumerate() {
        let (level, hz) = on(n as f64 / rate);
        turn = (turn + hz / rate).fract();
        *sample += (level * (TAU * turn).sin()) as f32;
    }
}
