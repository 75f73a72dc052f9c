//! What is added to a sound: noise over shift characters, so that the shift is lost after
//! them; noise that comes after the receiver's gain.

use crate::listen::{SAMPLE_RATE, Sent};
use crate::text::{Draw, draw};
use markhold_air::Interval;
use markhold_code::Code;
use rand::RngExt;

/// Share of the shift characters that are covered.
const SHARE: f64 = 0.7;
/// Noise over full scale, rms: 13 to 20 dB over the sound of the scenes.
const RMS: std::ops::Range<f32> = 0.8..1.8;

/// Covers some of the shift characters of a sound; where.
pub fn cover(sound: &mut [f32], sent: &[Sent], seed: u64) -> Vec<Interval> {
    let mut draw = draw("cover", seed);
    let mut covered = Vec::new();
    for character in sent
        .iter()
        .map(|s| s.character)
        .filter(|c| matches!(c.code, Code::LETTERS | Code::FIGURES))
    {
        // The first shifts of a message are left, so that it begins in order.
        if character.start_s < 5.0 || !draw.random_bool(SHARE) {
            continue;
        }
        let rms = draw.random_range(RMS);
        let start_s = character.start_s + draw.random_range(-0.005..0.02);
        let end_s = character.start_s + draw.random_range(0.13..0.17);
        let place = |s: f64| (s * f64::from(SAMPLE_RATE)) as usize;
        add_noise(&mut sound[place(start_s)..place(end_s)], rms, &mut draw);
        covered.push(Interval { start_s, end_s });
    }
    covered
}

/// Adds what a sound card adds after the receiver's gain, 45 to 60 dB below full scale.
pub fn hiss(sound: &mut [f32], seed: u64) {
    let mut draw = draw("hiss", seed);
    let level_db: f32 = draw.random_range(-60.0..-45.0);
    add_noise(sound, 10f32.powf(level_db / 20.0), &mut draw);
}

fn add_noise(sound: &mut [f32], rms: f32, draw: &mut Draw) {
    for x in sound {
        // Twelve uniform numbers make a normal one of variance 1 (common practice).
        let normal: f32 = (0..12).map(|_| draw.random_range(-0.5..0.5f32)).sum();
        *x += rms * normal;
    }
}
