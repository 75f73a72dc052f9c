//! Short spectra: how strong the noise is, and the sound without its tones.

use super::floor::{Floor, Lesson};
use super::history::{History, Reading};
use super::{CELLS_PER_FRAME, CELLS_PER_STEP, WARM_UP};
use crate::Complex32;
use markhold_transform::{ComplexToReal, RealToComplex};
use std::f32::consts::TAU;
use std::sync::Arc;

/// Most samples of the residual in one cell: above 6 kHz there is no radioteletype.
const MOST_SAMPLES: usize = 12;
/// A bin this many times above the noise is a tone; noise gets there in 1 of 400.
const TONE: f32 = 6.0;
/// Mean square below which there is no sound: -120 dB of full scale.
const SILENCE: f32 = 1e-12;
/// Mean square beyond which the arithmetic could overflow.
const TOO_LOUD: f32 = 1e18;
/// Spectra with sound in all of their length come this many after silence.
const WHOLE: u32 = 4;
/// Noise this many times over what is expected is not learnt from, ...
const UNUSUAL: f32 = 4.0;
/// ... unless it has lasted for so many spectra that it must be the new state of things.
const LASTING: u32 = 50;
/// Spectra that fit the floor badly for so long (0.5 s) make it learn faster.
const ODD_FRAMES: u32 = 125;

/// What is expected of the next spectrum.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expected {
    /// Power of the noise over the floor.
    pub level: f32,
    /// Factor by which the floor shall move.
    pub pull: f32,
}

/// What one step brings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Heard {
    /// Of the newest spectrum.
    pub reading: Reading,
    /// Power of the noise in the cells of the spectrum's first quarter, over the floor.
    pub powers: [f32; CELLS_PER_STEP],
    /// Of the spectrum three before: power of what may be a crash over the floor, or 0.
    pub crash: f32,
    /// Bins that are looked at.
    pub bins: usize,
    /// Spectra that the floor was learnt from.
    pub learnt: u32,
}

/// Turns sound into spectra, readings and residual.
pub(super) struct Frames {
    // derived
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    window: Vec<f32>,
    window_back: Vec<f32>,
    /// Samples of the residual in one cell.
    samples: usize,
    // state
    floor: Floor,
    history: History,
    sounding: u32,
    unusual: u32,
    odd: u32,
    residual: Vec<f32>,
    work: Vec<f32>,
    spectrum: Vec<Complex32>,
    scratch: Vec<Complex32>,
    noise: Vec<Complex32>,
    back: Vec<f32>,
    scratch_back: Vec<Complex32>,
}

/// How often something has been true without a break.
fn count_while(so: bool, count: u32) -> u32 {
    if so { count.saturating_add(1) } else { 0 }
}

fn hann(n: usize) -> Vec<f32> {
    let at = |i| 0.5 - 0.5 * (TAU * i as f32 / n as f32).cos();
    (0..n).map(at).collect()
}

impl Frames {
    /// Spectra of cells of `cell` samples.
    pub(super) fn new(cell: usize) -> Self {
        let samples = cell.min(MOST_SAMPLES);
        let (long, short) = (CELLS_PER_FRAME * cell, CELLS_PER_FRAME * samples);
        let bins = short / 2;
        let forward = markhold_transform::forward_real(long);
        let inverse = markhold_transform::inverse_real(short);
        Self {
            window: hann(long),
            window_back: hann(short),
            samples,
            floor: Floor::new(bins),
            history: History::new(bins),
            sounding: 0,
            unusual: 0,
            odd: 0,
            residual: vec![0.0; short],
            work: vec![0.0; long],
            spectrum: forward.make_output_vec(),
            scratch: forward.make_scratch_vec(),
            noise: inverse.make_input_vec(),
            back: vec![0.0; short],
            scratch_back: inverse.make_scratch_vec(),
            forward,
            inverse,
        }
    }

    /// What each bin holds over time; `None` until the floor was learnt.
    pub(super) fn bins(&self) -> Option<impl Iterator<Item = [f32; 3]>> {
        // Noise of variance 1 gives a bin this power: the sum of the squared window.
        let scale = 1.0 / (0.375 * self.window.len() as f32);
        let means = self.floor.quantile_means();
        (self.floor.learnt() >= WARM_UP).then(|| means.map(move |m| m.map(|q| q * scale)))
    }

    /// Takes the sound of the next frame, [`CELLS_PER_FRAME`] cells of it.
    pub(super) fn process(&mut self, sound: &[f32], expected: Expected) -> Heard {
        for (w, (x, h)) in self.work.iter_mut().zip(sound.iter().zip(&self.window)) {
            *w = x * h;
        }
        self.forward
            .process_with_scratch(&mut self.work, &mut self.spectrum, &mut self.scratch)
            .expect("buffers were made by this transform");
        let audible = self.measure_powers();
        let reading = match audible {
            true => self.read(expected),
            false => Reading {
                level: expected.level,
                ..Reading::default()
            },
        };
        if audible {
            self.add_noise(reading.level);
        }
        Heard {
            reading,
            powers: self.finished_cells(),
            crash: self.history.crash(&self.floor, 2.0 * expected.level),
            bins: self.floor.counted().len(),
            learnt: self.floor.learnt(),
        }
    }

    /// Powers of the bins; says whether there is sound that can be measured.
    fn measure_powers(&mut self) -> bool {
        let powers = self.history.next();
        for (p, x) in powers.iter_mut().zip(&self.spectrum) {
            *p = x.norm_sqr();
        }
        // Mean square of a sound under a Hann window, were the bins all there are.
        let size = self.window.len() as f32;
        let square = powers.iter().sum::<f32>() / (0.1875 * size * size);
        let audible = square > SILENCE && square < TOO_LOUD;
        if !audible {
            powers.fill(0.0);
        }
        self.sounding = count_while(audible, self.sounding);
        audible
    }

    fn read(&mut self, expected: Expected) -> Reading {
        if self.sounding < WHOLE {
            return Reading {
                level: expected.level,
                ..Reading::default()
            };
        }
        let reading = self.history.read(&self.floor);
        let usual = reading.level < UNUSUAL * expected.level;
        self.unusual = count_while(!usual, self.unusual);
        self.odd = count_while(!reading.sure, self.odd);
        let warm = self.floor.learnt() >= WARM_UP;
        if usual || !warm || self.unusual > LASTING {
            let lesson = Lesson {
                level: match warm && reading.level > 0.0 {
                    true => reading.level,
                    false => expected.level,
                },
                pull: expected.pull,
                hold: warm,
                odd: self.odd > ODD_FRAMES,
            };
            self.floor.learn(self.history.newest(), lesson);
        }
        reading
    }

    /// Takes tones out, makes noise white, and adds the frame to the residual.
    fn add_noise(&mut self, level: f32) {
        let (powers, inverse) = (self.history.newest(), self.floor.inverse());
        self.noise.fill(Complex32::default());
        for &k in self.floor.counted() {
            let k = usize::from(k);
            let tone = powers[k] * inverse[k] > TONE * level;
            let weight = if tone { level / powers[k] } else { inverse[k] };
            self.noise[k] = self.spectrum[k] * weight.sqrt();
        }
        self.inverse
            .process_with_scratch(&mut self.noise, &mut self.back, &mut self.scratch_back)
            .expect("the bins at both ends are empty");
        let frame = self.back.iter().zip(&self.window_back);
        for (sum, (y, w)) in self.residual.iter_mut().zip(frame) {
            *sum += y * w;
        }
    }

    /// Powers of the residual where no further frame will add to it.
    fn finished_cells(&mut self) -> [f32; CELLS_PER_STEP] {
        // A bin of power 1 brings 2 to the variance of an inverse transform. The first
        // window has taken 3/8 of it; both windows together, four times overlapped, have
        // added up to 3/2 in amplitude: 2 / (3/8) * (3/2)^2 = 12.
        let scale = 1.0 / (12.0 * self.floor.counted().len() as f32 * self.samples as f32);
        let mut cells = self.residual.chunks_exact(self.samples);
        let power = |part: &[f32]| part.iter().map(|x| x * x).sum::<f32>() * scale;
        let powers = std::array::from_fn(|_| cells.next().map_or(0.0, power));
        let step = CELLS_PER_STEP * self.samples;
        self.residual.copy_within(step.., 0);
        let end = self.residual.len() - step;
        self.residual[end..].fill(0.0);
        powers
    }
}
