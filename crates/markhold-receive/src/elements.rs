//! Elements: how much better mark, or space, explains a stretch of sound than noise does.
//!
//! Never a decision. Time is a grid of `steps` points to the element; the log likelihood
//! ratio of every whole element that begins on a grid point is kept for both tones, and of
//! every shorter stretch of mark, for the remainder of an idle line that is no whole
//! number of elements long.

use markhold_signal::Complex32;
use markhold_signal::bessel::LnI0;
use pulp::{Arch, Simd, WithSimd};

use crate::sums::vectors;

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

/// Log probability that mark is gone without warning from a stretch shorter than an element:
/// none argues more strongly against its tone than this.
const GONE: f32 = -3.5;

/// How far a tone may have fallen, as a factor on its amplitude, and the log probability
/// of it.
const FALLEN: [(f32, f32); 3] = [(1.0, 0.0), (0.4, -2.5), (0.16, -4.0)];

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
        Self::weigh_middles((steps, 0), points, [mark, space], clear, ln_i0)
    }

    /// The same of mark and space, but of a whole element only its middle counts, without `trim`
    /// steps at either end: what is left of an element when transitions come late or early. The rest
    /// is as good as noise.
    pub fn weigh_middles(
        (steps, trim): (usize, usize),
        points: usize,
        [mark, space]: [&ToneOnGrid; 2],
        clear: &[f32],
        ln_i0: &LnI0,
    ) -> Self {
        Self {
            steps,
            mark: whole((steps, trim), points, mark, clear, ln_i0),
            space: whole((steps, trim), points, space, clear, ln_i0),
            part: Parts::of(steps, points, mark, clear, ln_i0),
        }
    }

    /// The same in either sense: with the first tone as mark, and with the second.
    pub fn both_senses(
        (steps, trim): (usize, usize),
        points: usize,
        tones: &[ToneOnGrid; 2],
        clear: &[f32],
        ln_i0: &LnI0,
    ) -> [Self; 2] {
        let wholes = [0, 1].map(|k| whole((steps, trim), points, &tones[k], clear, ln_i0));
        [0, 1].map(|k| Self {
            steps,
            mark: wholes[k].clone(),
            space: wholes[1 - k].clone(),
            part: Parts::of(steps, points, &tones[k], clear, ln_i0),
        })
    }

    /// Adds what another receiver's elements say of the same line.
    ///
    /// # Panics
    ///
    /// Where they are of another grid.
    pub fn add(&mut self, other: &Elements) {
        assert_eq!((self.steps, self.points()), (other.steps, other.points()));
        let lists = [
            (&mut self.mark, &other.mark),
            (&mut self.space, &other.space),
            (&mut self.part, &other.part),
        ];
        for (sums, more) in lists {
            sums.iter_mut().zip(more).for_each(|(sum, x)| *sum += x);
        }
    }

    /// Number of grid points.
    pub fn points(&self) -> usize {
        self.mark.len()
    }
}

/// Weighs whole elements of a tone from each of `points` points, without `trim` steps at either end.
fn whole(
    (steps, trim): (usize, usize),
    points: usize,
    tone: &ToneOnGrid,
    clear: &[f32],
    ln_i0: &LnI0,
) -> Vec<f32> {
    let last = clear.len() - 1;
    let at = |i: usize| {
        let (from, to) = ((i + trim).min(last), (i + steps - trim).min(last));
        let span = clear[to] - clear[from];
        Weigher::new(tone, i).weigh_whole(tone, from, to, span, ln_i0)
    };
    (0..points).map(at).collect()
}

/// Weighs all stretches of a tone that are shorter than an element.
struct Parts<'a> {
    steps: usize,
    points: usize,
    tone: &'a ToneOnGrid,
    clear: &'a [f32],
    ln_i0: &'a LnI0,
}

impl<'a> Parts<'a> {
    fn of(
        steps: usize,
        points: usize,
        tone: &'a ToneOnGrid,
        clear: &'a [f32],
        ln_i0: &'a LnI0,
    ) -> Vec<f32> {
        Arch::new().dispatch(Self {
            steps,
            points,
            tone,
            clear,
            ln_i0,
        })
    }

    /// A list with its last value repeated, so that no stretch reaches past the end.
    fn longer<T: Copy>(&self, list: &[T], of: impl Fn(T) -> f32) -> Vec<f32> {
        let last = self.clear.len() - 1;
        let index = |i: usize| i.min(last);
        (0..self.points + self.steps)
            .map(|i| of(list[index(i)]))
            .collect()
    }
}

impl WithSimd for Parts<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Vec<f32> {
        let re = self.longer(&self.tone.sums, |s| s.re);
        let im = self.longer(&self.tone.sums, |s| s.im);
        let clear = self.longer(self.clear, |c| c);
        let mut part = vec![0.0; self.points * self.steps];
        for (i, row) in part.chunks_exact_mut(self.steps).enumerate() {
            let tone = Weigher::new(self.tone, i);
            let range = i..i + self.steps;
            let ends = [&re[range.clone()], &im[range.clone()]];
            vectors::distances(simd, ends, [re[i], im[i]], tone.slope, row);
            for (x, end) in row.iter_mut().zip(&clear[range]) {
                *x = (self.ln_i0.at(*x) - tone.energy * (end - clear[i])).max(GONE);
            }
            row[0] = 0.0;
        }
        part
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

    /// The likelihood ratio as expected, or under a tone that fell by 8 or 16 dB without warning, whichever explains
    /// it best: a sudden fade must not make both tones equally unlikely.
    #[inline]
    fn weigh_whole(
        &self,
        tone: &ToneOnGrid,
        from: usize,
        to: usize,
        span: f32,
        ln_i0: &LnI0,
    ) -> f32 {
        let envelope = self.slope * (tone.sums[to] - tone.sums[from]).norm_sqr().sqrt();
        let energy = self.energy * span;
        FALLEN
            .iter()
            .fold(f32::NEG_INFINITY, |best, (amplitude, ln)| {
                best.max(ln_i0.at(amplitude * envelope) - amplitude * amplitude * energy + ln)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_agree_with_stretches_weighed_one_by_one() {
        let ln_i0 = LnI0::default();
        for (steps, points) in [(4, 30), (8, 21), (16, 50)] {
            let sum = |i: usize| Complex32::from_polar(0.1 * i as f32, 0.3 * i as f32);
            let tone = ToneOnGrid {
                sums: (0..=points).map(sum).collect(),
                power: (0..=points).map(|i| 1.0 + 0.1 * i as f32).collect(),
                noise: vec![0.2; points + 1],
            };
            let clear: Vec<f32> = (0..=points).map(|i| (i as f32 / 5.0).sqrt()).collect();
            let elements = Elements::weigh(steps, points, &tone, &tone, &clear, &ln_i0);
            for i in 0..points {
                for r in 0..steps {
                    let end = (i + r).min(points);
                    let span = clear[end] - clear[i];
                    let weigher = Weigher::new(&tone, i);
                    let envelope = weigher.slope * (tone.sums[end] - tone.sums[i]).norm();
                    let slow = (ln_i0.at(envelope) - weigher.energy * span).max(GONE);
                    let fast = elements.part[i * steps + r];
                    assert!((fast - slow).abs() < 1e-4, "{i} {r}: {fast}, not {slow}");
                }
            }
        }
    }
}
