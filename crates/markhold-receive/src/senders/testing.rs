//! Made-up senders for tests of the walks.

use std::f32::consts::TAU;

use markhold_signal::{Complex32, bessel::LnI0};

use super::lattice::{Edge, Lattice};
use super::model::Tuning;
use super::sound::Sound;
use crate::elements::ToneOnGrid;
use crate::sums::log_sum::NEVER;

/// Grid points to the element.
pub const STEPS: usize = 4;
/// A usual sender.
pub const TUNING: Tuning = Tuning {
    distance_hz: 170.0,
    element_s: 0.022,
    offset_hz: [0.0; 2],
    bias: 0.0,
};
/// The phases turn by whole steps of sixteen, so that the grid holds them exactly.
pub const EXACT: Tuning = Tuning {
    distance_hz: (3.0 + 12.0 / 16.0) / 0.022,
    ..TUNING
};
/// Small numbers that look random, the same every time.
fn noise(seed: &mut u64) -> f32 {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
    let uniform = |s: u64| ((s >> 33) as f32 + 0.5) / (1u64 << 31) as f32;
    let a = uniform(*seed);
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
    (-2.0 * a.ln()).sqrt() * (TAU * uniform(*seed)).cos()
}

/// Both tones of a phase-continuous sender on the grid: lines of `(mark?, steps)`.
fn tones(line: &[(bool, usize)], tuning: &Tuning, energy: f32, seed: u64) -> [ToneOnGrid; 2] {
    let mut seed = seed;
    let cycles = (tuning.distance_hz * tuning.element_s) as f32;
    let (mut mark, mut space) = (0.7f32, 2.1f32);
    let mut sums = [vec![Complex32::default()], vec![Complex32::default()]];
    for &(is_mark, steps) in line {
        for _ in 0..steps {
            let part = 1.0 / STEPS as f32;
            for (k, list) in sums.iter_mut().enumerate() {
                let phase = [mark, space][k];
                let sent = (k == 0) == is_mark;
                let tone = Complex32::from_polar(if sent { part } else { 0.0 }, phase);
                let spread = (0.5 * part / energy).sqrt();
                let hiss = Complex32::new(noise(&mut seed), noise(&mut seed)) * spread;
                list.push(list[list.len() - 1] + tone + hiss);
            }
            match is_mark {
                true => space += TAU * (cycles * part),
                false => mark -= TAU * (cycles * part),
            }
        }
    }
    sums.map(|sums| ToneOnGrid {
        power: vec![1.0; sums.len()],
        noise: vec![1.0 / energy; sums.len()],
        sums,
    })
}

fn character(code: usize) -> Vec<(bool, usize)> {
    let mut line = vec![(false, STEPS)];
    line.extend((0..5).map(|k| (code >> k & 1 == 1, STEPS)));
    line.push((true, STEPS));
    line
}

/// Characters that follow each other without a gap, all starts known.
pub fn sent(
    codes: &[usize],
    tuning: &Tuning,
    energy: f32,
    seed: u64,
) -> ([ToneOnGrid; 2], Lattice) {
    let line: Vec<_> = codes.iter().flat_map(|&c| character(c)).collect();
    let edge = |to: usize| Edge {
        from: Some(to - 1),
        to,
        ln: 0.0,
    };
    let count = codes.len();
    let mut entry = vec![NEVER; count];
    entry[0] = 0.0;
    let mut exit = vec![NEVER; count];
    exit[count - 1] = 0.0;
    let lattice = Lattice {
        starts: (0..count).map(|c| (c * 7 * STEPS) as f64).collect(),
        edges: (1..count).map(edge).collect(),
        entry,
        exit,
        off: NEVER,
    };
    (tones(&line, tuning, energy, seed), lattice)
}

/// The sound of tones of which nothing was blanked.
pub fn with_sound<T>(tones: &[ToneOnGrid; 2], run: impl FnOnce(&Sound) -> T) -> T {
    let points = tones[0].sums.len();
    let clear: Vec<f32> = (0..points).map(|i| i as f32 / STEPS as f32).collect();
    run(&Sound {
        steps: STEPS,
        tones: [&tones[0], &tones[1]],
        clear: &clear,
        ln_i0: &LnI0::default(),
        distorted: false,
    })
}
