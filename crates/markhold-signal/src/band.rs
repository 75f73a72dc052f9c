//! The band as overlapping spectra, and narrow streams taken out of it.
//!
//! One forward transform per hop serves everything that looks at the sound: the search
//! reads its bins, and every tone is a handful of bins turned back into time (fast
//! convolution, overlap-save). A narrow stream costs a short inverse transform, whatever
//! the sampling rate of the sound was.
//!
//! ```text
//!   sound  |---------------- N ----------------|        one frame, N samples
//!                      |---- H ----|                    the H it adds in the middle,
//!          |--- 3N/8 --|           |--- 3N/8 --|        guarded for the filter's tails
//! ```
//!
//! A frame begins every `H = N/4` samples. A filter with real frequency response has its
//! impulse response centred on zero; as long as it has died away within `3N/8` samples the
//! middle `H` outputs of a frame are those of linear convolution.

use markhold_transform::{Fft, RealToComplex};
use std::collections::VecDeque;
use std::f64::consts::TAU;
use std::sync::Arc;

use crate::{Complex32, Complex64};

/// Least length of a frame, s: nearly six elements at 45.45 baud, so that an idle tone is
/// a sharp line, and three hops of guard for filters of 96 ms.
const FRAME_S: f64 = 0.128;
/// Frames are a multiple of this many samples, so that a hop holds 32 whole cells.
const FRAME_MULTIPLE: usize = 128;

/// Lengths of frames and hops for one sampling rate; plain data, comparable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPlan {
    /// Sampling rate of the sound, Hz.
    pub rate_hz: f64,
    /// Samples in a frame.
    pub frame: usize,
    /// Samples from one frame to the next: a quarter of `frame`.
    pub hop: usize,
}

impl BandPlan {
    /// Plans frames for a sampling rate in Hz: at least 128 ms, at most 1.25 times that or
    /// 128 samples more, and of small prime factors.
    pub fn new(rate_hz: f64) -> Self {
        let least = ((rate_hz * FRAME_S / FRAME_MULTIPLE as f64).ceil() as usize).max(1);
        let blocks = (least..).find(|&n| has_small_factors(n)).unwrap_or(least);
        let frame = blocks * FRAME_MULTIPLE;
        Self {
            rate_hz,
            frame,
            hop: frame / 4,
        }
    }

    /// Width of one bin, Hz.
    pub fn bin_hz(&self) -> f64 {
        self.rate_hz / self.frame as f64
    }

    /// Duration of one hop, s.
    pub fn hop_s(&self) -> f64 {
        self.hop as f64 / self.rate_hz
    }

    /// Position of the first sample of frame `index`; frames before the sound begins reach
    /// into silence.
    fn frame_start(&self, index: u64) -> i64 {
        index as i64 * self.hop as i64 - (self.frame - self.hop) as i64
    }

    /// Position, in samples, of the first output that frame `index` adds to a narrow stream.
    pub fn output_start(&self, index: u64) -> i64 {
        self.frame_start(index) + (self.frame - self.hop) as i64 / 2
    }

    /// The middle of what frame `index` adds to a narrow stream, s.
    pub fn middle_s(&self, index: u64) -> f64 {
        (self.output_start(index) as f64 + self.hop as f64 / 2.0) / self.rate_hz
    }

    /// The frame whose outputs hold sample position `at`, or 0 if that lies before all.
    pub fn frame_holding(&self, at: i64) -> u64 {
        ((at - self.output_start(0)).max(0) / self.hop as i64) as u64
    }
}

fn has_small_factors(n: usize) -> bool {
    [2, 3, 5].iter().fold(n, |mut n, p| {
        while n.is_multiple_of(*p) {
            n /= p;
        }
        n
    }) == 1
}

/// Cuts sound into overlapping spectra and keeps the latest of them.
pub struct Band {
    // configured
    plan: BandPlan,
    kept: usize,
    // derived
    transform: Arc<dyn RealToComplex<f32>>,
    // state
    input: Vec<f32>,
    fresh: usize,
    work: Vec<f32>,
    scratch: Vec<Complex32>,
    frames: VecDeque<Vec<Complex32>>,
    next_frame: u64,
}

impl Band {
    /// Keeps the latest `kept` frames of a sound sampled at `plan.rate_hz`.
    pub fn new(plan: BandPlan, kept: usize) -> Self {
        let transform = markhold_transform::forward_real(plan.frame);
        let scratch = transform.make_scratch_vec();
        Self {
            plan,
            kept: kept.max(1),
            transform,
            input: vec![0.0; plan.frame],
            fresh: 0,
            work: vec![0.0; plan.frame],
            scratch,
            frames: VecDeque::new(),
            next_frame: 0,
        }
    }

    /// The plan this band was made with.
    pub fn plan(&self) -> BandPlan {
        self.plan
    }

    /// Takes samples until one new frame is complete or none are left; returns how many
    /// were taken and whether a frame was completed.
    pub fn push(&mut self, samples: &[f32]) -> (usize, bool) {
        let (frame, hop) = (self.plan.frame, self.plan.hop);
        let taken = samples.len().min(hop - self.fresh);
        let at = frame - hop + self.fresh;
        self.input[at..at + taken].copy_from_slice(&samples[..taken]);
        self.fresh += taken;
        if self.fresh < hop {
            return (taken, false);
        }
        self.transform_frame();
        self.input.copy_within(hop.., 0);
        self.fresh = 0;
        (taken, true)
    }

    fn transform_frame(&mut self) {
        let mut bins = match self.frames.len() < self.kept {
            true => self.transform.make_output_vec(),
            false => self.frames.pop_front().expect("at least one frame is kept"),
        };
        self.work.copy_from_slice(&self.input);
        self.transform
            .process_with_scratch(&mut self.work, &mut bins, &mut self.scratch)
            .expect("buffers were made by this transform");
        self.frames.push_back(bins);
        self.next_frame += 1;
    }

    /// Index of the frame that will come next; frames before it that are still kept can be
    /// read.
    pub fn next_frame(&self) -> u64 {
        self.next_frame
    }

    /// Index of the oldest frame that is still kept.
    pub fn oldest_frame(&self) -> u64 {
        self.next_frame - self.frames.len() as u64
    }

    /// The bins of a kept frame, `frame/2 + 1` of them, unscaled; `None` if it is gone or
    /// yet to come.
    pub fn frame(&self, index: u64) -> Option<&[Complex32]> {
        let at = index.checked_sub(self.oldest_frame())?;
        self.frames.get(at as usize).map(Vec::as_slice)
    }

    /// Power of bin `k` of a frame as a Hann window would have given it: the window is a
    /// three-term convolution over bins, so no second transform is needed.
    pub fn hann_power(bins: &[Complex32], k: usize) -> f32 {
        (bins[k] - (bins[k - 1] + bins[k + 1]) * 0.5).norm_sqr()
    }
}

/// Turns a stretch of bins back into time: the narrow stream around one frequency.
///
/// The output is the analytic signal (a tone of amplitude `a` gives `a/2`), moved down so
/// that the extractor's centre lies at 0 Hz, with one phase reference for all time.
pub struct Extractor {
    // configured
    plan: BandPlan,
    bins: usize,
    // derived
    transform: Arc<dyn Fft<f32>>,
    // state
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl Extractor {
    /// An extractor whose output has at least `least_rate_hz` samples a second.
    pub fn new(plan: BandPlan, least_rate_hz: f64) -> Self {
        let bins = ((least_rate_hz / plan.bin_hz() / 8.0).ceil() as usize * 8).max(8);
        let transform = markhold_transform::inverse(bins);
        let scratch = vec![Complex32::default(); transform.get_inplace_scratch_len()];
        Self {
            plan,
            bins,
            transform,
            work: vec![Complex32::default(); bins],
            scratch,
        }
    }

    /// Samples a second of the output.
    pub fn rate_hz(&self) -> f64 {
        self.bins as f64 * self.plan.bin_hz()
    }

    /// Outputs that each frame adds.
    pub fn outputs(&self) -> usize {
        self.bins / 4
    }

    /// Number of taps over frequency: the length that `response` must have.
    pub fn bins(&self) -> usize {
        self.bins
    }

    /// Appends the outputs of one frame around bin `centre`. `response[i]` weighs the bin
    /// `centre - bins/2 + i`; bins outside the spectrum count as empty.
    pub fn extract(
        &mut self,
        spectrum: &[Complex32],
        index: u64,
        centre: usize,
        response: &[f32],
        out: &mut Vec<Complex32>,
    ) {
        let half = self.bins / 2;
        for (i, &weight) in response.iter().enumerate() {
            let bin = (centre + i).checked_sub(half).and_then(|k| spectrum.get(k));
            // Bin offset zero belongs at the start of the inverse transform.
            self.work[(i + half) % self.bins] = bin.map_or(Complex32::default(), |b| b * weight);
        }
        self.transform
            .process_with_scratch(&mut self.work, &mut self.scratch);
        let turn = self.reference(index, centre);
        let first = self.bins * 3 / 8;
        out.extend(
            self.work[first..first + self.outputs()]
                .iter()
                .map(|y| y * turn),
        );
    }

    /// Phase that refers a frame's outputs to sample 0, with the transform's scale.
    fn reference(&self, index: u64, centre: usize) -> Complex32 {
        let start = self
            .plan
            .frame_start(index)
            .rem_euclid(self.plan.frame as i64);
        let cycles = (centre as f64 * start as f64 / self.plan.frame as f64).fract();
        let turn = Complex64::from_polar(1.0 / self.plan.frame as f64, -TAU * cycles);
        Complex32::new(turn.re as f32, turn.im as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(rate: f64, hz: f64, samples: usize) -> Vec<f32> {
        (0..samples)
            .map(|n| (TAU * hz * n as f64 / rate).cos() as f32)
            .collect()
    }

    fn flat_response(extractor: &Extractor) -> Vec<f32> {
        let half = extractor.bins() as f32 / 2.0;
        (0..extractor.bins())
            .map(|i| {
                let off = (i as f32 - half).abs() / half;
                if off < 0.6 {
                    1.0
                } else {
                    (0.5 + 0.5 * (std::f32::consts::PI * (off - 0.6) / 0.4).cos()).max(0.0)
                }
            })
            .collect()
    }

    fn narrow(rate: f64, sound: &[f32], hz: f64, block: usize) -> (Vec<Complex32>, f64, f64) {
        let plan = BandPlan::new(rate);
        let mut band = Band::new(plan, 4);
        let mut extractor = Extractor::new(plan, 2000.0);
        let response = flat_response(&extractor);
        let centre = (hz / plan.bin_hz()).round() as usize;
        let mut out = Vec::new();
        for part in sound.chunks(block) {
            let mut part = part;
            while !part.is_empty() {
                let (taken, complete) = band.push(part);
                part = &part[taken..];
                if complete {
                    let index = band.next_frame() - 1;
                    let bins = band.frame(index).expect("just made");
                    extractor.extract(bins, index, centre, &response, &mut out);
                }
            }
        }
        (out, extractor.rate_hz(), centre as f64 * plan.bin_hz())
    }

    #[test]
    fn frames_have_small_factors_and_whole_cells() {
        for rate in [
            6000.0, 8000.0, 11_025.0, 12_000.0, 22_050.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0,
        ] {
            let plan = BandPlan::new(rate);
            assert!(plan.frame.is_multiple_of(FRAME_MULTIPLE), "{plan:?}");
            assert!(plan.frame as f64 >= FRAME_S * rate, "{plan:?}");
            assert!(
                plan.frame as f64 <= 1.25 * FRAME_S * rate + 128.0,
                "{plan:?}"
            );
        }
    }

    #[test]
    fn a_tone_comes_out_with_half_its_amplitude_and_one_phase() {
        for rate in [6000.0, 8000.0, 11_025.0, 48_000.0] {
            let hz = 1275.3;
            let (out, out_rate, centre) =
                narrow(rate, &tone(rate, hz, rate as usize * 2), hz, 1000);
            let plan = BandPlan::new(rate);
            let begin = plan.output_start(0) as f64 / rate;
            for (m, y) in out.iter().enumerate().skip(400).take(3000) {
                let t = begin + m as f64 / out_rate;
                let expected = Complex64::from_polar(0.5, TAU * (hz - centre) * t);
                let error = (Complex64::new(y.re.into(), y.im.into()) - expected).norm();
                assert!(
                    error < 1e-3,
                    "at {rate} Hz, output {m}: {y} instead of {expected}"
                );
            }
        }
    }

    #[test]
    fn block_size_does_not_matter() {
        let sound = tone(8000.0, 1500.0, 9000);
        let whole = narrow(8000.0, &sound, 1500.0, 9000).0;
        for block in [1, 7, 255, 256, 257, 4096] {
            assert_eq!(
                whole,
                narrow(8000.0, &sound, 1500.0, block).0,
                "block {block}"
            );
        }
    }
}
