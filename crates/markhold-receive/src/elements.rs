//! Elements: how much better mark, or space, explains a stretch of sound than noise does.
//!
//! Never a decision. Time is a grid of `steps` points to the element; the log likelihood
//! ratio of every whole element that begins on a grid point is kept for both tones, and of
//! every shorter stretch of mark, for the remainder of an idle line that is no whole
//! number of elements long.

use markhold_signal::Complex32;
use markhold_signal::bessel::LnI0;

/// One tone on the grid.
#[derive(Clone, Debug, Default)]
pub struct ToneOnGrid {
    /// Integral of the tone's narrow stream from the window's begin to each grid point.
    /// The unit is such that one element of a steady tone integrates to its amplitude.
    pub sums: Vec<Complex32>,
    /// Power of the tone while it is sent, in units of `sums` squared, around each point.
    pub power: Vec<f32>,
    /// Noise power in one element, in units of `sums` squared, around each point.
    pub noise: Vec<f32>,
}

/// Log likelihood ratios of all elements of a window, natural logarithm, against noise
/// alone.
#[derive(Clone, Debug, Default)]
pub struct Elements {
    /// Grid points to the element.
    pub steps: usize,
    /// Whole element of mark from point `i`.
    pub mark: Vec<f32>,
    /// Whole element of space from point `i`.
    pub space: Vec<f32>,
    /// Mark from point `i` for `r` steps, at `i * steps + r`, `r < steps`.
    pub part: Vec<f32>,
}

/// Energy of an element over noise density above which more certainty is not believed
/// (16 dB): what is left of errors there is not Gaussian noise, and the framing should
/// not be bound by it.
const GREATEST_ENERGY: f32 = 40.0;

/// Log probability that a tone is gone without warning, in a sudden fade or a hole: no
/// element argues more strongly against its tone than this.
const GONE: f32 = -3.5;

impl Elements {
    /// Weighs `points` elements. `clear` is the running integral of the share of the sound
    /// that was not blanked, in elements, on the same grid. Both tones and `clear` hold at
    /// least `points + 1` points; stretches that reach past the end count what is there.
    pub fn weigh(
        steps: usize,
        points: usize,
        mark: &ToneOnGrid,
        space: &ToneOnGrid,
        clear: &[f32],
        ln_i0: &LnI0,
    ) -> Self {
        let mut part = vec![0.0; points * steps];
        let mut whole_mark = vec![0.0; points];
        let mut whole_space = vec![0.0; points];
        let last = clear.len() - 1;
        for i in 0..points {
            let tone = Weigher::new(mark, i);
            for r in 1..steps {
                let end = (i + r).min(last);
                part[i * steps + r] = tone.weigh(mark, i, end, clear[end] - clear[i], ln_i0);
            }
            let end = (i + steps).min(last);
            let span = clear[end] - clear[i];
            whole_mark[i] = tone.weigh(mark, i, end, span, ln_i0);
            whole_space[i] = Weigher::new(space, i).weigh(space, i, end, span, ln_i0);
        }
        Self {
            steps,
            mark: whole_mark,
            space: whole_space,
            part,
        }
    }

    /// Number of grid points.
    pub fn points(&self) -> usize {
        self.mark.len()
    }
}

/// The Rice likelihood ratio with the tone's power and noise around one point.
struct Weigher {
    energy: f32,
    slope: f32,
}

impl Weigher {
    fn new(tone: &ToneOnGrid, i: usize) -> Self {
        let noise = tone.noise[i]
            .max(tone.power[i] / GREATEST_ENERGY)
            .max(f32::MIN_POSITIVE);
        let energy = tone.power[i] / noise;
        Self {
            energy,
            slope: 2.0 * (energy / noise).sqrt(),
        }
    }

    #[inline]
    fn weigh(&self, tone: &ToneOnGrid, from: usize, to: usize, span: f32, ln_i0: &LnI0) -> f32 {
        let envelope = (tone.sums[to] - tone.sums[from]).norm_sqr().sqrt();
        (ln_i0.at(self.slope * envelope) - self.energy * span).max(GONE)
    }
}
