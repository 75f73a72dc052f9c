//! Short spectra of the sound, 25 a second: what the passband picture, the crash counter
//! and the tuning look at.

use super::{ROW_BINS, ROW_FLOOR_DB, ROW_TOP_HZ, Row};
use markhold_transform::{Complex32, RealToComplex};
use std::sync::Arc;

/// Spectra a second.
pub const PER_SECOND: u32 = 25;
/// Length of the sound in one spectrum, s: three elements at 45.45 baud, so that most hold
/// both tones, and short enough that turning the dial shows at once.
const FRAME_S: f64 = 0.064;
/// Distance of two bins, Hz.
pub const BIN_HZ: f64 = ROW_TOP_HZ / ROW_BINS as f64;

/// One short spectrum.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// The end of its sound, live time, s.
    pub until_s: f64,
    /// The middle of its sound, live time, s.
    pub at_s: f64,
    /// Power of each of [`ROW_BINS`] bins of [`BIN_HZ`]: 1 for a tone at full scale. 0 above
    /// half the sampling rate.
    pub power: Vec<f32>,
}

impl Spectrum {
    /// The spectrum as a row of the picture.
    pub fn row(&self) -> Row {
        let db = |power: &f32| 10.0 * power.max(1e-13).log10();
        Row {
            at_s: self.at_s,
            db: self
                .power
                .iter()
                .map(|p| db(p).round().clamp(ROW_FLOOR_DB.into(), 127.0) as i8)
                .collect(),
        }
    }
}

/// Makes spectra of sound.
pub struct Spectra {
    // configured
    rate: f64,
    begin_s: f64,
    // derived
    hop: usize,
    window: Vec<f32>,
    /// 1 for a tone at full scale after the window.
    scale: f32,
    transform: Arc<dyn RealToComplex<f32>>,
    // state
    input: Vec<f32>,
    /// Samples before the first one in `input`.
    dropped: u64,
    work: Vec<f32>,
    bins: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl Spectra {
    /// Spectra of sound of `rate` Hz whose first sample stands at `begin_s`.
    pub fn new(rate: u32, begin_s: f64) -> Self {
        let rate_hz = f64::from(rate);
        let frame = ((rate_hz * FRAME_S / 2.0).round() as usize).max(8) * 2;
        let transform = markhold_transform::forward_real(frame);
        let turn = std::f64::consts::TAU / frame as f64;
        let hann = |n: usize| (0.5 - 0.5 * (turn * (n as f64 + 0.5)).cos()) as f32;
        Spectra {
            rate: rate_hz,
            begin_s,
            hop: (rate / PER_SECOND) as usize,
            window: (0..frame).map(hann).collect(),
            // A Hann window's mean is a half, and half of a tone lies at negative frequency.
            scale: (4.0 / frame as f32).powi(2),
            input: Vec::new(),
            dropped: 0,
            work: transform.make_input_vec(),
            bins: transform.make_output_vec(),
            scratch: transform.make_scratch_vec(),
            transform,
        }
    }

    /// Takes samples; hands out each spectrum that they complete.
    pub fn process(&mut self, samples: &[f32], give: &mut dyn FnMut(Spectrum)) {
        self.input.extend_from_slice(samples);
        while self.input.len() >= self.work.len() {
            give(self.spectrum());
            self.input.drain(..self.hop);
            self.dropped += self.hop as u64;
        }
    }

    fn spectrum(&mut self) -> Spectrum {
        let frame = self.work.len();
        let windowed = self.input.iter().zip(&self.window).map(|(x, w)| x * w);
        self.work
            .iter_mut()
            .zip(windowed)
            .for_each(|(to, x)| *to = x);
        self.transform
            .process_with_scratch(&mut self.work, &mut self.bins, &mut self.scratch)
            .expect("buffers were made by this transform");
        let first_s = self.begin_s + self.dropped as f64 / self.rate;
        Spectrum {
            until_s: first_s + frame as f64 / self.rate,
            at_s: first_s + 0.5 * frame as f64 / self.rate,
            power: (0..ROW_BINS).map(|k| self.power(k)).collect(),
        }
    }

    /// Power at bin `k` of the picture, between the two nearest of the transform.
    fn power(&self, k: usize) -> f32 {
        let place = k as f64 * BIN_HZ * self.work.len() as f64 / self.rate;
        let (below, part) = (place as usize, place.fract() as f32);
        let at = |i: usize| self.bins.get(i).map_or(0.0, |bin| bin.norm_sqr());
        (at(below) * (1.0 - part) + at(below + 1) * part) * self.scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn tone(rate: u32, hz: f64, samples: usize) -> Vec<f32> {
        let turn = TAU * hz / f64::from(rate);
        (0..samples)
            .map(|n| (turn * n as f64).sin() as f32)
            .collect()
    }

    fn spectra(rate: u32, sound: &[f32], block: usize) -> Vec<Spectrum> {
        let mut all = Vec::new();
        let mut spectra = Spectra::new(rate, 5.0);
        for part in sound.chunks(block) {
            spectra.process(part, &mut |s| all.push(s));
        }
        all
    }

    #[test]
    fn a_tone_at_full_scale_is_0_db_at_its_place_for_every_rate() {
        for rate in [6000, 8000, 11_025, 44_100, 48_000, 192_000] {
            let all = spectra(rate, &tone(rate, 2125.0, rate as usize), 1000);
            // 64 ms first, then one every 40 ms.
            assert_eq!(all.len(), 24, "{rate} Hz");
            for spectrum in &all {
                let row = spectrum.row();
                let (bin, db) = (0..).zip(&row.db).max_by_key(|(_, db)| **db).expect("bins");
                assert_eq!(bin, 136, "2125 Hz at {rate} Hz");
                assert!((-1..=0).contains(db), "{db} dB at {rate} Hz");
            }
        }
    }

    #[test]
    fn blocks_do_not_matter() {
        let sound = tone(8000, 1000.0, 4000);
        let whole = spectra(8000, &sound, 4000);
        assert_eq!(whole, spectra(8000, &sound, 7));
        assert!((whole[1].until_s - 5.104).abs() < 1e-9);
    }

    #[test]
    fn above_half_the_rate_there_is_nothing() {
        let row = spectra(6000, &tone(6000, 1000.0, 600), 600)[0].row();
        assert!(
            row.db[193..].iter().all(|db| *db == ROW_FLOOR_DB),
            "{:?}",
            &row.db[190..]
        );
    }
}
