//! What the sound says about one element, as a function of its tone's phase.

use markhold_signal::{Complex32, bessel::LnI0};

use crate::elements::ToneOnGrid;
use crate::sums::log_sum::exp_fast;

/// Energy of an element over noise density that is believed at most (13 dB): half of that in
/// [`crate::elements`].
const GREATEST_ENERGY: f32 = 20.0;
/// Probability that a tone is gone, or not what it should be, for one element without
/// warning.
const GONE: f32 = 0.001;
/// Amplitude to which a tone may have fallen, as a share (-9 dB), and the log probability.
const FALLEN: f32 = 0.35;
const FALLEN_LN: f32 = -5.0;

/// The sound of a window: both tones on the window's grid.
pub struct Sound<'a> {
    /// Grid points to the element.
    pub steps: usize,
    /// Mark and space.
    pub tones: [&'a ToneOnGrid; 2],
    /// Running integral of the share of sound that was not blanked, in elements.
    pub clear: &'a [f32],
    /// Table of `ln I0`.
    pub ln_i0: &'a LnI0,
    /// Whether transitions come early or late, so that the ends of elements do not count.
    pub distorted: bool,
}

/// How much of either end of a distorted sender's elements does not count, elements. With a
/// bias of 20 % it is the ends of marks or those of spaces that the other tone covers, and
/// phases do not tell which: 22 ms at 170 Hz are 3.74 turns, so 20 % to one side is as 7 %
/// to the other.
const COVERED: f64 = 0.1;

/// Index of mark's tone.
pub const MARK: usize = 0;
/// Index of space's tone.
pub const SPACE: usize = 1;

/// Likelihood of a stretch of one tone against noise alone, over the tone's phase:
/// `phases[j] * exp(ln)` at phase `2 pi j / N`. The largest is 1.
#[derive(Clone, Copy, Debug)]
pub struct Likelihood<const N: usize> {
    /// Likelihood at each phase, in units of `exp(ln)`.
    pub phases: [f32; N],
    /// Natural logarithm of the unit.
    pub ln: f32,
}

impl Sound<'_> {
    /// What counts of an element between fractional grid points.
    pub fn inside(&self, from: f64, to: f64) -> (f64, f64) {
        let covered = match self.distorted {
            true => COVERED * self.steps as f64,
            false => 0.0,
        };
        (from + covered, to - covered)
    }

    /// Grid points of the window.
    pub fn points(&self) -> usize {
        self.clear.len() - 1
    }

    /// Integral of a tone from the window's begin to a fractional grid point.
    fn sum(&self, tone: usize, at: f64) -> Complex32 {
        let sums = &self.tones[tone].sums;
        let (i, part) = place(at, sums.len());
        match part > 0.0 {
            true => sums[i] + (sums[i + 1] - sums[i]) * part,
            false => sums[i],
        }
    }

    fn clear(&self, at: f64) -> f32 {
        let (i, part) = place(at, self.clear.len());
        match part > 0.0 {
            true => self.clear[i] + (self.clear[i + 1] - self.clear[i]) * part,
            false => self.clear[i],
        }
    }

    /// Power of a tone around a grid point.
    pub fn power(&self, tone: usize, at: f64) -> f32 {
        let power = &self.tones[tone].power;
        power[(at.max(0.0) as usize).min(power.len() - 1)]
    }

    /// Integral of a tone between fractional grid points, parts outside of the window left
    /// out.
    pub fn between(&self, tone: usize, from: f64, to: f64) -> Complex32 {
        self.sum(tone, to) - self.sum(tone, from)
    }

    /// Sound between fractional grid points that was not blanked, elements.
    pub fn clear_between(&self, from: f64, to: f64) -> f32 {
        self.clear(to) - self.clear(from)
    }

    /// Noise power in one element of a tone around a grid point; with a strong tone, as
    /// much as leaves of its energy what is believed at most.
    pub fn noise(&self, tone: usize, at: f64) -> f32 {
        let t = self.tones[tone];
        let i = (at.max(0.0) as usize).min(t.power.len() - 1);
        t.noise[i]
            .max(t.power[i] / GREATEST_ENERGY)
            .max(f32::MIN_POSITIVE)
    }

    /// Weighs a stretch of `tone` between fractional grid points, parts outside of the
    /// window left out.
    pub fn weigh<const N: usize>(&self, tone: usize, from: f64, to: f64) -> Likelihood<N> {
        let x = self.between(tone, from, to);
        let span = self.clear_between(from, to);
        let noise = self.noise(tone, from);
        let energy = self.power(tone, from) / noise;
        let slope = 2.0 * (energy / noise).sqrt();
        let mut phases = [0.0; N];
        if N == 1 {
            phases[0] = self.ln_i0.at(slope * x.norm_sqr().sqrt());
        } else {
            for (j, p) in phases.iter_mut().enumerate() {
                let to = direction::<N>(j);
                *p = slope * (x.re * to.re + x.im * to.im);
            }
        }
        likelihood(phases, energy * span)
    }
}

impl<const N: usize> Likelihood<N> {
    /// Two stretches of one tone that follow each other at one phase.
    pub fn joined(mut self, next: &Self) -> Self {
        for (p, q) in self.phases.iter_mut().zip(&next.phases) {
            *p *= q;
        }
        self.ln += next.ln;
        self
    }
}

fn place(at: f64, len: usize) -> (usize, f32) {
    let last = len - 1;
    if at <= 0.0 {
        return (0, 0.0);
    }
    let i = at as usize;
    if i >= last {
        return (last, 0.0);
    }
    (i, (at - i as f64) as f32)
}

/// `exp(i phase)` of phase `j`.
pub fn direction<const N: usize>(j: usize) -> Complex32 {
    const QUARTER: [f32; 5] = [
        0.0,
        0.382_683_43,
        std::f32::consts::FRAC_1_SQRT_2,
        0.923_879_5,
        1.0,
    ];
    let sine = |k: usize| {
        let k = k % 16;
        let quarter = |k: usize| if k <= 4 { QUARTER[k] } else { QUARTER[8 - k] };
        if k < 8 { quarter(k) } else { -quarter(k - 8) }
    };
    let k = j * 16 / N;
    Complex32::new(sine(k + 4), sine(k))
}

/// The tone may be as strong as expected, or have fallen without warning, or be gone:
/// `exp(e - cost) + exp(f e - f² cost + FALLEN_LN) + GONE`, `f` the fallen amplitude.
fn likelihood<const N: usize>(exponents: [f32; N], cost: f32) -> Likelihood<N> {
    let highest = exponents.iter().fold(f32::MIN, |a, &b| a.max(b));
    let fallen = FALLEN_LN - FALLEN * FALLEN * cost;
    let ln = (highest - cost).max(FALLEN * highest + fallen).max(0.0);
    let gone = GONE * exp_fast(-ln);
    let at = |e: f32| exp_fast(e - cost - ln) + exp_fast(FALLEN * e + fallen - ln) + gone;
    Likelihood {
        phases: exponents.map(at),
        ln,
    }
}
