//! Filters of a receiver: band-passes by their poles, with their delay and ringing.

use markhold_transform::Complex;
use std::f64::consts::PI;

/// A Butterworth band-pass (S. Butterworth, 1930): 3 dB down at both edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandPass {
    pub low_hz: f64,
    pub high_hz: f64,
    /// Poles of the low-pass it is made from: 2 is gentle, 12 is steep.
    pub order: usize,
}

impl BandPass {
    /// What it does to a tone of `hz`.
    pub fn response(&self, hz: f64) -> Complex<f64> {
        if hz <= 0.0 {
            return Complex::default();
        }
        // The low-pass with edges at -1 and 1, bent to the band.
        let x = (hz - self.low_hz * self.high_hz / hz) / (self.high_hz - self.low_hz);
        let pole = |k: usize| {
            let turn = PI * (0.5 + (2 * k + 1) as f64 / (2 * self.order) as f64);
            Complex::from_polar(1.0, turn)
        };
        let through = |k: usize| -pole(k) / (Complex::new(0.0, x) - pole(k));
        (0..self.order).map(through).product()
    }

    /// What becomes of the sound.
    pub fn pass(&self, sound: &mut [f32], rate: f64) {
        shape(sound, rate, |hz| self.response(hz));
    }
}

/// Multiplies the spectrum of the whole sound.
pub fn shape(sound: &mut [f32], rate: f64, response: impl Fn(f64) -> Complex<f64>) {
    // A second of silence, so that no ringing comes round to the begin; then to a length
    // that transforms fast.
    let unit = 4096;
    let whole = (sound.len() + rate as usize).div_ceil(unit) * unit;
    let mut padded = sound.to_vec();
    padded.resize(whole, 0.0);
    let there = markhold_transform::forward_real(whole);
    let back = markhold_transform::inverse_real(whole);
    let mut spectrum = there.make_output_vec();
    there
        .process(&mut padded, &mut spectrum)
        .expect("lengths agree");
    for (k, bin) in spectrum.iter_mut().enumerate() {
        let factor = response(k as f64 * rate / whole as f64) / whole as f64;
        *bin *= Complex::new(factor.re as f32, factor.im as f32);
    }
    for end in [0, whole / 2] {
        spectrum[end].im = 0.0;
    }
    back.process(&mut spectrum, &mut padded)
        .expect("lengths agree");
    sound.copy_from_slice(&padded[..sound.len()]);
}
