//! The arithmetic of signals: transforms, oscillators, running sums, and the
//! statistics of noise.
//!
//! Nothing here knows files, devices, threads or clocks. Samples go in as slices, time
//! is a sample position, and the same samples cut into any blocks give the same result.

pub mod band;
pub mod bessel;
pub mod level;
pub mod running;
pub mod tones;

pub use band::{Band, BandPlan, Extractor};
pub use markhold_transform::{Complex32, Complex64};
pub use tones::{Course, ToneError, ToneMaker, TonePlan};
