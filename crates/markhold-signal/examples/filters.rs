//! What the filters make of a sound, as JSON for `checks/check_filters.py`.
//!
//! Standard input: sound at 8000 Hz, little-endian `f32`. Standard output: one object with
//! `frame` and `hop` in samples; `hann`, of `[frame, bin, power]`; `streams`, each with its
//! `centre` bin, `rate_hz`, position `begin` of its first output in samples, `response`,
//! `outputs` of `[re, im]` and `integrals` of `[from_s, to_s, re, im]`; and `bessel`, of
//! `[x, I0(x) exp(-x), ln I0(x)]`.

use markhold_signal::bessel::{LnI0, i0_scaled};
use markhold_signal::running::RunningSum;
use markhold_signal::{Band, BandPlan, Complex64, Extractor};
use std::io::Read;

const RATE_HZ: f64 = 8000.0;
/// Samples in one block: odd, so that hops and blocks do not fall together.
const BLOCK: usize = 777;
/// Frames 0 and 2 reach into the silence before the sound.
const HANN_FRAMES: [u64; 4] = [0, 2, 5, 29];
const HANN_BINS: [usize; 5] = [1, 2, 160, 333, 511];
/// Centre bin, least rate in Hz and tilt. The second reaches 6 bins below 0 Hz and is not
/// symmetric, so that a reversed response would be seen.
const STREAMS: [(usize, f64, f32); 2] = [(160, 500.0, 0.0), (122, 2000.0, 0.5)];
/// Begin and end, s: an element at 45.45 baud, less than an output, and beyond both ends.
const SPANS_S: [(f64, f64); 5] = [
    (0.5, 0.522),
    (0.1234, 0.9876),
    (0.3, 0.3003),
    (-1.0, 0.05),
    (1.0, 99.0),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let band = band_of(&sound_from_input()?);
    let plan = band.plan();
    let streams: Vec<_> = STREAMS.iter().map(|&s| stream(&band, s)).collect();
    println!(
        r#"{{"frame":{},"hop":{},"hann":{},"streams":{},"bessel":{}}}"#,
        plan.frame,
        plan.hop,
        list(&hann(&band)),
        list(&streams),
        list(&bessel())
    );
    Ok(())
}

fn sound_from_input() -> Result<Vec<f32>, Box<dyn std::error::Error>> {
    let mut bytes = Vec::new();
    std::io::stdin().read_to_end(&mut bytes)?;
    let (samples, rest) = bytes.as_chunks::<4>();
    if !rest.is_empty() {
        return Err(format!(
            "{} bytes of sound: expected whole samples of 4 bytes",
            bytes.len()
        )
        .into());
    }
    Ok(samples.iter().map(|&s| f32::from_le_bytes(s)).collect())
}

/// All whole frames of a sound.
fn band_of(sound: &[f32]) -> Band {
    let plan = BandPlan::new(RATE_HZ);
    let mut band = Band::new(plan, sound.len() / plan.hop);
    for mut block in sound.chunks(BLOCK) {
        while !block.is_empty() {
            block = &block[band.push(block).0..];
        }
    }
    band
}

fn hann(band: &Band) -> Vec<String> {
    let frames = HANN_FRAMES
        .iter()
        .filter_map(|&f| Some((f, band.frame(f)?)));
    frames
        .flat_map(|(f, bins)| HANN_BINS.map(|k| format!("[{f},{k},{}]", Band::hann_power(bins, k))))
        .collect()
}

fn stream(band: &Band, (centre, least_rate_hz, tilt): (usize, f64, f32)) -> String {
    let mut extractor = Extractor::new(band.plan(), least_rate_hz);
    let response = raised_cosine(extractor.bins(), tilt);
    let mut out = Vec::new();
    for index in 0..band.next_frame() {
        let bins = band.frame(index).expect("all frames are kept");
        extractor.extract(bins, index, centre, &response, &mut out);
    }
    let out: Vec<_> = out
        .iter()
        .map(|y| Complex64::new(y.re.into(), y.im.into()))
        .collect();
    let (rate_hz, begin) = (extractor.rate_hz(), band.plan().output_start(0));
    let sum = RunningSum::new(out.iter().copied(), rate_hz, begin as f64 / RATE_HZ);
    let integrals = SPANS_S.map(|(from, to)| {
        let y = sum.between(from, to);
        format!("[{from},{to},{},{}]", y.re, y.im)
    });
    let outputs: Vec<_> = out.iter().map(|y| format!("[{},{}]", y.re, y.im)).collect();
    format!(
        r#"{{"centre":{centre},"rate_hz":{rate_hz},"begin":{begin},"response":{},"outputs":{},"integrals":{}}}"#,
        list(&response),
        list(&outputs),
        list(&integrals)
    )
}

/// A raised cosine over `bins` bins, 1 in the middle, leaning by `tilt` at its ends.
fn raised_cosine(bins: usize, tilt: f32) -> Vec<f32> {
    let half = bins as f32 / 2.0;
    let offsets = (0..bins).map(|i| (i as f32 - half) / half);
    offsets
        .map(|x| (1.0 + tilt * x) * (0.5 + 0.5 * (std::f32::consts::PI * x).cos()))
        .collect()
}

/// Both branches of the polynomials and of the table, off its steps and on them.
fn bessel() -> Vec<String> {
    let ln_i0 = LnI0::default();
    let places = (0..3000).map(|i| i as f32 * 0.03125 + (i as f32 / 400.0).powi(3));
    places
        .map(|x| format!("[{},{},{}]", f64::from(x), i0_scaled(x.into()), ln_i0.at(x)))
        .collect()
}

fn list<T: ToString>(items: &[T]) -> String {
    let items: Vec<_> = items.iter().map(T::to_string).collect();
    format!("[{}]", items.join(","))
}
