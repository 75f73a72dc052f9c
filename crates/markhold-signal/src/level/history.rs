//! What the latest short spectra say: how strong the noise is, and whether it is a crash.

use super::floor::Floor;
use std::f32::consts::LN_2;

/// The quantile below the median that tells whether a spectrum is flat over the floor.
const LOW_QUANTILE: f32 = 0.15;
/// Median over that quantile in noise: ln 2 / -ln 0.85.
const FLAT: f32 = 4.265;
/// How far from flat a spectrum of `n` bins may be, nepers times root `n`: to tell a level,
/// and to be a crash (whose edges make fewer bins independent).
const FLAT_SPREAD: [f32; 2] = [8.0, 14.0];
/// Noise that is held for seven spectra reaches this many times its mean.
const HELD_NOISE: f32 = 6.5;
/// Beside a line this strong (60 dB) it is no noise that fills the bins but the line's own
/// keying, and it says nothing about gain.
const DROWNED: f32 = 1e6;
/// Beside this (120 dB, more than 16 bits hold) it is the rounding of the arithmetic.
const ROUNDING: f32 = 1e12;
/// Skirt of a badly keyed tone: its peak power over the square of the distance in bins. A
/// tone switched hard at the middle of a Hann window has 1/pi^2 of that; ten times more
/// covers reversed phases, and peaks that the switching itself lowers.
const SKIRT: f32 = 1.0;
/// A second tone is at least this many bins away from the first.
const APART: usize = 4;
/// Spectra before and after that are searched for the tone to a skirt: the tone may have
/// been switched at the very edge of this one.
const SKIRT_FRAMES: usize = 3;
const KEPT: usize = 2 * SKIRT_FRAMES + 1;

/// What one spectrum says about the noise.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Reading {
    /// Power of the noise over the floor.
    pub level: f32,
    /// Whether the level can be trusted: sound, enough bins, flat over the floor.
    pub sure: bool,
    /// Whether it could be a crash: the same, less strictly.
    pub flat: bool,
    /// Power of the strongest bin over that of noise in a well-filled one.
    pub line: f32,
}

/// The latest spectra.
pub(super) struct History {
    // state
    powers: [Vec<f32>; KEPT],
    readings: [Reading; KEPT],
    count: usize,
    order: Vec<f32>,
    held: Vec<f32>,
}

impl History {
    pub(super) fn new(bins: usize) -> Self {
        Self {
            powers: std::array::from_fn(|_| vec![0.0; bins]),
            readings: [Reading::default(); KEPT],
            count: 0,
            order: Vec::with_capacity(bins),
            held: vec![0.0; bins],
        }
    }

    /// Powers of the bins of the newest spectrum.
    pub(super) fn newest(&self) -> &[f32] {
        &self.powers[(self.count + KEPT - 1) % KEPT]
    }

    /// Begins the next spectrum: where its powers go.
    pub(super) fn next(&mut self) -> &mut [f32] {
        let at = self.count % KEPT;
        self.count += 1;
        self.readings[at] = Reading::default();
        &mut self.powers[at]
    }

    /// Reads the newest spectrum.
    pub(super) fn read(&mut self, floor: &Floor) -> Reading {
        let at = (self.count + KEPT - 1) % KEPT;
        self.readings[at] = self.level(at, floor);
        self.readings[at]
    }

    fn level(&mut self, at: usize, floor: &Floor) -> Reading {
        let powers = &self.powers[at];
        let over = |&k: &u16| powers[usize::from(k)] * floor.inverse()[usize::from(k)];
        self.order.clear();
        self.order.extend(floor.counted().iter().map(over));
        let bins = self.order.len();
        let (below, median, _) = self.order.select_nth_unstable_by(bins / 2, f32::total_cmp);
        let median = *median;
        let low = (bins as f32 * LOW_QUANTILE) as usize;
        let low = *below.select_nth_unstable_by(low, f32::total_cmp).1;
        let [fits, flat] = FLAT_SPREAD.map(|spread| {
            let most = FLAT * (spread / (bins as f32).sqrt()).exp();
            floor.chosen() && median <= most * low
        });
        let strongest = powers[2..].iter().fold(0.0f32, |most, &p| most.max(p));
        let line = strongest / floor.filled().max(f32::MIN_POSITIVE);
        Reading {
            level: median / LN_2,
            sure: fits && line < DROWNED,
            flat: flat && line < ROUNDING,
            line,
        }
    }

    /// Power over the floor of what may be a crash in the spectrum [`SKIRT_FRAMES`] back:
    /// without what may be the skirts of the two strongest tones. 0 if it is not flat or
    /// does not reach `least`.
    pub(super) fn crash(&mut self, floor: &Floor, least: f32) -> f32 {
        if self.count < KEPT {
            return 0.0;
        }
        let at = (self.count - 1 - SKIRT_FRAMES) % KEPT;
        let reading = self.readings[at];
        if !reading.flat || reading.level < least {
            return 0.0;
        }
        self.hold_tones(floor, reading.level);
        let first = strongest(&self.held, |_| true);
        let second = strongest(&self.held, |k| k.abs_diff(first.0) >= APART);
        let skirt = |(tone, power): (usize, f32), k: usize| {
            let distance = k.abs_diff(tone).max(1) as f32;
            SKIRT * power / (distance * distance)
        };
        let powers = &self.powers[at];
        let without = |&k: &u16| {
            let k = usize::from(k);
            let power = powers[k] - skirt(first, k) - skirt(second, k);
            power.max(0.0) * floor.inverse()[k]
        };
        self.order.clear();
        self.order.extend(floor.counted().iter().map(without));
        let middle = self.order.len() / 2;
        let median = self.order.select_nth_unstable_by(middle, f32::total_cmp).1;
        *median / LN_2
    }

    /// The most that each bin held lately, over what noise of this level may reach.
    fn hold_tones(&mut self, floor: &Floor, level: f32) {
        self.held.fill(0.0);
        for powers in &self.powers {
            for (held, &p) in self.held.iter_mut().zip(powers) {
                *held = held.max(p);
            }
        }
        for &k in floor.counted() {
            let k = usize::from(k);
            // A tone may look like noise to the floor, if only by its scatter.
            let mean = (1.0 / floor.inverse()[k]).min(2.0 * floor.filled());
            let noise = HELD_NOISE * level * mean;
            self.held[k] = (self.held[k] - noise).max(0.0);
        }
    }
}

/// The strongest of the bins that `may` be: where it is, and its power.
fn strongest(powers: &[f32], may: impl Fn(usize) -> bool) -> (usize, f32) {
    let bins = powers.iter().copied().enumerate();
    bins.filter(|&(k, _)| may(k)).fold(
        (0, 0.0),
        |most, bin| if bin.1 > most.1 { bin } else { most },
    )
}
