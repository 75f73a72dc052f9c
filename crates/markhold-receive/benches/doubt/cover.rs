//! Shift characters covered by noise, so that the shift is lost after them.

use crate::sample::SAMPLE_RATE;
use crate::text::draw;
use markhold_air::{Interval, SentCharacter};
use markhold_code::Code;
use rand::RngExt;

/// Share of the shift characters that are covered.
const SHARE: f64 = 0.7;
/// Noise over full scale, rms: 10 to 16 dB over the sound of the scenes.
const RMS: std::ops::Range<f32> = 0.5..1.0;

/// Covers some of the shift characters of a sound; where.
pub fn cover(
    sound: &mut [f32],
    sent: impl Iterator<Item = SentCharacter>,
    seed: u64,
) -> Vec<Interval> {
    let mut draw = draw("cover", seed);
    let mut covered = Vec::new();
    for character in sent.filter(|c| matches!(c.code, Code::LETTERS | Code::FIGURES)) {
        // The first shifts of a message are left, so that it begins in order.
        if character.start_s < 5.0 || !draw.random_bool(SHARE) {
            continue;
        }
        let rms = draw.random_range(RMS);
        let start_s = character.start_s + draw.random_range(0.0..0.03);
        let end_s = character.start_s + draw.random_range(0.10..0.15);
        let place = |s: f64| (s * f64::from(SAMPLE_RATE)) as usize;
        for x in &mut sound[place(start_s)..place(end_s)] {
            // Twelve uniform numbers make a normal one of variance 1 (common practice).
            let normal: f32 = (0..12).map(|_| draw.random_range(-0.5..0.5f32)).sum();
            *x += rms * normal;
        }
        covered.push(Interval { start_s, end_s });
    }
    covered
}
