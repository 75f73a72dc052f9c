//! The noise floor: what each bin holds when nothing but noise is in it.
//!
//! The power of noise in one bin is exponential, whatever its mean. Two quartiles of each
//! bin are followed by small steps up and down, blind to how far away a value lies, so that
//! a crash moves them no more than any other spectrum. Their product is the floor, their
//! quotient tells noise from tones.

/// Quartiles of an exponential variable of mean 1: ln(4/3) and ln 4.
const QUARTILES: [f32; 2] = [0.287_682_07, 1.386_294_4];
/// Its median: ln 2.
const MEDIAN: f32 = std::f32::consts::LN_2;
/// Upper over lower quartile that still counts as noise. Noise gives 4.82, steady tones 1,
/// keyed ones their whole contrast; the followed quartiles scatter by 1 dB (measured).
const NOISE_LIKE: [f32; 2] = [2.4, 8.0];
/// The share of noise-like bins below the well-filled ones.
const WELL_FILLED: f32 = 0.9;
/// Bins 25 dB below the well-filled ones lie outside the receiver's filter.
const OUTSIDE: f32 = 0.003_162_3;
/// The least that can tell a level at all: six bins give 2.5 dB of scatter.
const FEWEST_BINS: usize = 6;
/// Direct current and the skirt of its window.
const FIRST_BIN: usize = 2;
/// No floor lies below: far less than 24 bits hold, and its square is still a number.
const TINY: f32 = 1e-15;
/// Step of the quartiles in the long run, nepers: settles in two seconds.
const LEAST_STEP: f32 = 0.01;
/// Step while spectra do not fit the floor at all, as after a change of filter.
const ODD_STEP: f32 = 0.04;
/// Step in spectrum `n` is this over `n` at first: near the inverse of the density of
/// log power at its quartiles, 0.22 and 0.35, which is best for such steps.
const FIRST_STEPS: f32 = 4.0;
const MOST_STEP: f32 = 0.5;
/// Spectra after which the bins are chosen anew.
const CHOOSE_EVERY: u32 = 32;

/// The floor and the bins to look at.
pub(super) struct Floor {
    // state
    lower: Vec<f32>,
    upper: Vec<f32>,
    /// Medians, which only tell who asks what a bin holds.
    middle: Vec<f32>,
    /// One over the mean noise power of each bin.
    inverse: Vec<f32>,
    /// The bins that hold noise and nothing else; all bins if there are too few such.
    counted: Vec<u16>,
    chosen: bool,
    /// Mean noise power of a well-filled bin.
    filled: f32,
    learnt: u32,
    order: Vec<f32>,
}

/// How to learn from one spectrum.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lesson {
    /// Power of the noise in it over the floor.
    pub level: f32,
    /// Factor on the whole floor.
    pub pull: f32,
    /// Whether nothing but `pull` may move the floor as a whole.
    pub hold: bool,
    /// Whether spectra have not fitted the floor for long.
    pub odd: bool,
}

impl Floor {
    pub(super) fn new(bins: usize) -> Self {
        Self {
            lower: vec![0.0; bins],
            upper: vec![0.0; bins],
            middle: vec![0.0; bins],
            inverse: vec![0.0; bins],
            counted: every_bin(bins).collect(),
            chosen: false,
            filled: 0.0,
            learnt: 0,
            order: Vec::with_capacity(bins),
        }
    }

    pub(super) fn inverse(&self) -> &[f32] {
        &self.inverse
    }

    pub(super) fn counted(&self) -> &[u16] {
        &self.counted
    }

    /// Whether the counted bins are noise.
    pub(super) fn chosen(&self) -> bool {
        self.chosen
    }

    /// Lower quartile, median and upper quartile of the power of each bin, as the means that
    /// noise with such quantiles has.
    pub(super) fn quantile_means(&self) -> impl Iterator<Item = [f32; 3]> {
        let quartiles = self.lower.iter().zip(&self.upper).zip(&self.middle);
        quartiles.map(|((low, high), mid)| [low / QUARTILES[0], mid / MEDIAN, high / QUARTILES[1]])
    }

    pub(super) fn filled(&self) -> f32 {
        self.filled
    }

    /// Spectra learnt from.
    pub(super) fn learnt(&self) -> u32 {
        self.learnt
    }

    /// Learns from the powers of one spectrum.
    pub(super) fn learn(&mut self, power: &[f32], lesson: Lesson) {
        if self.learnt == 0 {
            self.begin(power);
        }
        self.learnt = self.learnt.saturating_add(1);
        let least = if lesson.odd { ODD_STEP } else { LEAST_STEP };
        let step = (FIRST_STEPS / self.learnt as f32).clamp(least, MOST_STEP);
        self.move_quartiles(power, lesson, step);
        if self.learnt.is_multiple_of(CHOOSE_EVERY) {
            self.choose();
        }
    }

    /// Begins with the mean of five bins, so that no bin begins far off.
    fn begin(&mut self, power: &[f32]) {
        let most = power.iter().fold(0.0f32, |most, &p| most.max(p));
        for (k, (low, high)) in self.lower.iter_mut().zip(&mut self.upper).enumerate() {
            let around = &power[k.saturating_sub(2)..(k + 3).min(power.len())];
            let mean = around.iter().sum::<f32>() / around.len() as f32;
            // Above zero even if only a tone without any noise was heard.
            let mean = mean + most * 1e-12;
            (*low, *high) = (mean * QUARTILES[0], mean * QUARTILES[1]);
            self.middle[k] = mean * MEDIAN;
        }
    }

    /// A share of 1/4 below and 3/4 above keeps the lower quartile in place.
    fn move_quartiles(&mut self, power: &[f32], lesson: Lesson, step: f32) {
        let scale = 1.0 / lesson.level;
        let common = match lesson.hold {
            true => self.common_step(power, scale, step),
            false => 0.0,
        };
        let factor = |share: f32| (share * step - common).exp() * lesson.pull;
        let (up, down) = ([factor(0.25), factor(0.75)], [factor(-0.75), factor(-0.25)]);
        let norm = QUARTILES[0] * QUARTILES[1];
        let quartiles = self.lower.iter_mut().zip(&mut self.upper);
        for (((low, high), inverse), &p) in quartiles.zip(&mut self.inverse).zip(power) {
            let p = p * scale;
            *low = (*low * if p > *low { up[0] } else { down[0] }).max(TINY);
            *high = (*high * if p > *high { up[1] } else { down[1] }).max(TINY);
            *inverse = (norm / (*low * *high)).sqrt();
        }
        let (up, down) = (factor(0.5), factor(-0.5));
        for (middle, &p) in self.middle.iter_mut().zip(power) {
            *middle = (*middle * if p * scale > *middle { up } else { down }).max(TINY);
        }
    }

    /// Mean step of the counted bins, nepers. Level and floor are known only as a product;
    /// without taking this out the floor would wander off and the level with it.
    fn common_step(&self, power: &[f32], scale: f32, step: f32) -> f32 {
        let above = |&k: &u16| {
            let k = usize::from(k);
            let p = power[k] * scale;
            u32::from(p > self.lower[k]) + u32::from(p > self.upper[k])
        };
        let above: u32 = self.counted.iter().map(above).sum();
        // One of the two is above on average, and a step up is 1 more than a step down.
        0.5 * step * (above as f32 / self.counted.len() as f32 - 1.0)
    }

    fn choose(&mut self) {
        let every = || every_bin(self.lower.len());
        let mean = |&k: &u16| 1.0 / self.inverse[usize::from(k)];
        let noise_like = |&k: &u16| {
            let k = usize::from(k);
            (NOISE_LIKE[0]..NOISE_LIKE[1]).contains(&(self.upper[k] / self.lower[k]))
        };
        self.order.clear();
        self.order
            .extend(every().filter(noise_like).map(|k| mean(&k)));
        self.filled = match self.order.len() {
            0 => 0.0,
            n => {
                let at = (n as f32 * WELL_FILLED) as usize;
                *self.order.select_nth_unstable_by(at, f32::total_cmp).1
            }
        };
        let inside = |k: &u16| mean(k) > OUTSIDE * self.filled;
        self.counted.clear();
        self.counted
            .extend(every().filter(noise_like).filter(inside));
        self.chosen = self.counted.len() >= FEWEST_BINS;
        if !self.chosen {
            self.counted.clear();
            self.counted.extend(every());
        }
    }
}

fn every_bin(bins: usize) -> impl Iterator<Item = u16> {
    (FIRST_BIN..bins).map(|k| k as u16)
}
