//! Fourier transforms of a length, from the crates `rustfft` and `realfft`.
//!
//! Their planners are generic: every crate that names one compiles all algorithms for all kinds of
//! processor anew, and so does every test program of it, for up to a minute each. So one crate names
//! them, and nothing here is generic.
//!
//! No transform is scaled. Forward turns by `exp(-i ...)`.

use realfft::RealFftPlanner;
use rustfft::FftPlanner;
use std::sync::Arc;

pub use realfft::{ComplexToReal, RealToComplex};
pub use rustfft::Fft;
pub use rustfft::num_complex::{Complex, Complex32, Complex64};

/// Of `length` complex samples, to as many frequencies.
pub fn forward(length: usize) -> Arc<dyn Fft<f32>> {
    FftPlanner::new().plan_fft_forward(length)
}

/// Of `length` frequencies, to as many complex samples.
pub fn inverse(length: usize) -> Arc<dyn Fft<f32>> {
    FftPlanner::new().plan_fft_inverse(length)
}

/// Of `length` samples, to the `length / 2 + 1` frequencies from 0 up.
pub fn forward_real(length: usize) -> Arc<dyn RealToComplex<f32>> {
    RealFftPlanner::new().plan_fft_forward(length)
}

/// Of the `length / 2 + 1` frequencies from 0 up, to `length` samples.
pub fn inverse_real(length: usize) -> Arc<dyn ComplexToReal<f32>> {
    RealFftPlanner::new().plan_fft_inverse(length)
}
