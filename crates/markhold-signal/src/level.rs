//! The sound made level before anything else looks at it: static crashes and clicks are
//! taken down, and the pumping of the receiver's AGC is divided out.
//!
//! Later stages take the noise as steady. It is not: a crash raises it a hundredfold for
//! some milliseconds, and a neighbour who keys up lowers it together with the signal,
//! because the receiver turns its gain down. Both are seen in the noise itself, between the
//! tones, so that no tone, however strong or keyed, is taken for either:
//!
//! ```text
//!  sound --+-- short spectra --> floor: what each bin holds of noise, over seconds
//!          |         |     `---> level of the noise now, over the floor; is it flat?
//!          |         `-- tones taken out, noise made white, back to time --> power of
//!          |                                                                 each cell
//!          |                                                 crash? gain? <----'
//!          `-- delay ------------------------------------> times weight and gain --> out
//! ```
//!
//! * In a **crash** samples are multiplied by the inverse of the noise power over the steady
//!   one: the weight that a matched filter wants in noise of varying variance. The same
//!   number is what is left of the information in that cell, so a sum of [`CellLevel::clear`]
//!   over an element says how much of it was heard.
//! * The **gain** follows falls of the noise at once and rises slowly, and is taken out only
//!   where it clearly moves: noise that only scatters is left exactly as it is.
//! * Both are relative to a floor that follows lasting changes within a minute.
//!
//! A **cell** is a thirty-second of the band's hop, about 1 ms.

mod cells;
mod floor;
mod frames;
mod history;
#[cfg(test)]
mod tests;
mod track;

use crate::BandPlan;
use frames::Frames;
use track::Tracker;

/// Cells in one hop of the band.
const CELLS_PER_HOP: usize = 32;
/// Cells in one short spectrum: 16 ms tell tones 125 Hz apart and are shorter than an
/// element.
const CELLS_PER_FRAME: usize = 16;
/// Cells from one short spectrum to the next.
const CELLS_PER_STEP: usize = 4;
/// Cells between the end of the newest step and the end of the step that is decided with
/// it: tones that explain a click are looked for 12 cells after the spectrum in question,
/// and the level after an edge is taken over 16 cells that are known to be no crash.
const CELLS_AHEAD: usize = 36;
/// Spectra that the floor is learnt from before anything is done: 0.4 s.
const WARM_UP: u32 = 100;

/// What was done to one cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CellLevel {
    /// Share of the information left, 0 to 1: the weight that the samples were multiplied
    /// by, its mean where it moves within the cell. 1 is untouched.
    pub clear: f32,
    /// Factor on the amplitude that undoes the receiver's gain, relative to the floor; 1 is
    /// untouched. The factor moves in a straight line from the cell before to this value at
    /// the end of this cell.
    pub gain: f32,
    /// Whether the cell is part of a crash or a click.
    pub crash: bool,
}

impl CellLevel {
    const UNTOUCHED: Self = Self {
        clear: 1.0,
        gain: 1.0,
        crash: false,
    };
}

/// What one bin of the short spectra holds over time. White noise of variance `v` gives `v`
/// for all three; a steady tone gives more for `low` than for `high`, a keyed one the
/// reverse; one that is there most of the time more for `middle` than for `high`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BinPower {
    /// Variance of white noise whose power in the bin has the same lower quartile.
    pub low: f32,
    /// The same by the median.
    pub middle: f32,
    /// The same by the upper quartile.
    pub high: f32,
}

/// What is to be done to one cell: the weight moves in a straight line between two values.
#[derive(Clone, Copy, Debug)]
struct Decision {
    weight: [f32; 2],
    gain: f32,
    crash: bool,
}

impl Decision {
    const UNTOUCHED: Self = Self {
        weight: [1.0; 2],
        gain: 1.0,
        crash: false,
    };
}

/// Makes sound level; see the [module](self).
///
/// Output sample `n` belongs to input sample `n`, and cell `k` describes the samples from
/// `k * cell()` on. Any finite samples do; a level of rms 0.01 to 1 suits the arithmetic best.
pub struct Leveller {
    // configured
    plan: BandPlan,
    // derived
    cell: usize,
    // state
    /// The sound that is not yet given, and room for the next step.
    buffer: Vec<f32>,
    /// Samples of the next step that are there.
    fresh: usize,
    steps: u64,
    received: u64,
    given: u64,
    frames: Frames,
    tracker: Tracker,
    gain: f32,
}

impl Leveller {
    /// A leveller for sound as planned for the band.
    pub fn new(plan: BandPlan) -> Self {
        let cell = plan.hop / CELLS_PER_HOP;
        Self {
            plan,
            cell,
            buffer: vec![0.0; (CELLS_AHEAD + CELLS_PER_STEP) * cell],
            fresh: 0,
            steps: 0,
            received: 0,
            given: 0,
            frames: Frames::new(cell),
            tracker: Tracker::new(),
            gain: 1.0,
        }
    }

    /// Samples in one cell.
    pub fn cell(&self) -> usize {
        self.cell
    }

    /// Most samples by which the output is behind the input: 40 to 48 ms for sampling rates
    /// of 8 kHz and more.
    pub fn latency(&self) -> usize {
        self.buffer.len()
    }

    /// Samples that complete the next step: what is told and given changes with steps only.
    pub fn missing(&self) -> usize {
        self.step_samples() - self.fresh
    }

    /// Distance of the bins of [`Leveller::bins`], Hz.
    pub fn bin_hz(&self) -> f64 {
        self.plan.rate_hz / (CELLS_PER_FRAME * self.cell) as f64
    }

    /// What the bins of 16 ms of sound hold in the latest two seconds, from 0 Hz on, as the
    /// output has it: the gain undone. `None` in the first 0.4 s of sound.
    pub fn bins(&self) -> Option<Vec<BinPower>> {
        let bins = self.frames.bins()?;
        Some(
            bins.map(|[low, middle, high]| BinPower { low, middle, high })
                .collect(),
        )
    }

    /// Forgets all sound; the same as new.
    pub fn reset(&mut self) {
        *self = Self::new(self.plan);
    }

    /// Takes samples; appends those that are finished to `out` and what was done to each
    /// finished cell to `cells`.
    pub fn process(&mut self, samples: &[f32], out: &mut Vec<f32>, cells: &mut Vec<CellLevel>) {
        self.received += samples.len() as u64;
        self.take(samples, out, cells);
    }

    /// Gives what the latency held back, as if the sound went on as its own mirror image,
    /// and resets. The last cell may be a part of one.
    pub fn finish(&mut self, out: &mut Vec<f32>, cells: &mut Vec<CellLevel>) {
        let known = self.buffer.len() - self.step_samples() + self.fresh;
        let mirrored: Vec<f32> = self.buffer[..known].iter().rev().copied().collect();
        let left = (self.received - self.given) as usize;
        let (mut tail, mut tail_cells) = (Vec::new(), Vec::new());
        while tail.len() < left {
            self.take(&mirrored, &mut tail, &mut tail_cells);
        }
        out.extend_from_slice(&tail[..left]);
        cells.extend_from_slice(&tail_cells[..left.div_ceil(self.cell)]);
        self.reset();
    }

    fn step_samples(&self) -> usize {
        CELLS_PER_STEP * self.cell
    }

    fn take(&mut self, mut samples: &[f32], out: &mut Vec<f32>, cells: &mut Vec<CellLevel>) {
        let step = self.step_samples();
        let end = self.buffer.len() - step;
        while !samples.is_empty() {
            let taken = samples.len().min(step - self.fresh);
            let at = end + self.fresh;
            self.buffer[at..at + taken].copy_from_slice(&samples[..taken]);
            samples = &samples[taken..];
            self.fresh += taken;
            if self.fresh == step {
                self.step(out, cells);
                self.buffer.copy_within(step.., 0);
                self.fresh = 0;
            }
        }
    }

    fn step(&mut self, out: &mut Vec<f32>, cells: &mut Vec<CellLevel>) {
        let frame = self.buffer.len() - CELLS_PER_FRAME * self.cell;
        let heard = self
            .frames
            .process(&self.buffer[frame..], self.tracker.expected());
        let decisions = self.tracker.process(&heard);
        self.steps += 1;
        // What is decided at first lies before the sound.
        if self.steps as usize * CELLS_PER_STEP > CELLS_AHEAD {
            for (k, decision) in decisions.into_iter().enumerate() {
                cells.push(self.give(k, decision, out));
            }
        }
    }

    /// Gives cell `k` of the oldest step.
    fn give(&mut self, k: usize, decision: Decision, out: &mut Vec<f32>) -> CellLevel {
        let part = &self.buffer[k * self.cell..(k + 1) * self.cell];
        let step = 1.0 / self.cell as f32;
        let [first, last] = decision.weight;
        let (from, to) = (self.gain, decision.gain);
        out.extend(part.iter().zip(0u16..).map(|(x, i)| {
            let place = f32::from(i) * step;
            let weight = first + (last - first) * place;
            let gain = from + (to - from) * (place + step);
            (x * weight * gain).clamp(f32::MIN, f32::MAX)
        }));
        self.gain = to;
        self.given += self.cell as u64;
        // Nothing can be said about digital silence, and nothing is done to it.
        if part.iter().all(|&x| x == 0.0) {
            return CellLevel::UNTOUCHED;
        }
        CellLevel {
            clear: 0.5 * (first + last),
            gain: to,
            crash: decision.crash,
        }
    }
}
