//! What the way through the air does to a signal.

use super::draw::Draw;
use super::tone::amplitude;
use markhold_transform::Complex;
use std::f64::consts::TAU;

/// A way. Mean power stays what it was, but for `Dips`.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Path {
    /// As sent.
    #[default]
    Steady,
    /// Several echoes of equal mean power, each fading by itself: at 0 and at these delays, s;
    /// the spread is twice the standard deviation of a Gaussian Doppler spectrum
    /// (ITU-R F.1487; C. C. Watterson et al., 1970).
    Echoes { delays_s: Vec<f64>, spread_hz: f64 },
    /// A steady part of this share of the power, the rest scattered and fluttering.
    Flutter { steady: f64, spread_hz: f64 },
    /// Falls by so many dB all at once, for so long, so often (means, s).
    Dips {
        depth_db: f64,
        lasts_s: f64,
        every_s: f64,
    },
    /// Swells and sinks by this many dB with this period, s.
    Slow { swing_db: f64, period_s: f64 },
}

/// Instants a second at which a gain is worked out; straight lines between. The fastest
/// spread here turns over some forty times a second.
const GRID_HZ: f64 = 400.0;
/// Sinusoids that make up one fading gain.
const WAVES: usize = 48;

impl Path {
    /// The signal after the way.
    pub fn pass(&self, sent: &[Complex<f32>], rate: f64, draw: &mut Draw) -> Vec<Complex<f32>> {
        match self {
            Path::Steady => sent.to_vec(),
            Path::Echoes {
                delays_s,
                spread_hz,
            } => {
                let share = 1.0 / (1.0 + delays_s.len() as f64).sqrt();
                let mut heard = vec![Complex::default(); sent.len()];
                for delay_s in std::iter::once(&0.0).chain(delays_s) {
                    let gain = fading(*spread_hz, share, sent.len(), rate, draw);
                    let late = (delay_s * rate).round() as usize;
                    for (n, h) in heard.iter_mut().enumerate().skip(late) {
                        *h += sent[n - late] * between(&gain, n, rate);
                    }
                }
                heard
            }
            Path::Flutter { steady, spread_hz } => {
                let scattered = (1.0 - steady).sqrt();
                let gain = fading(*spread_hz, scattered, sent.len(), rate, draw);
                let whole = |n| between(&gain, n, rate) + steady.sqrt() as f32;
                sent.iter().enumerate().map(|(n, s)| s * whole(n)).collect()
            }
            Path::Dips {
                depth_db,
                lasts_s,
                every_s,
            } => {
                let (mut down, mut until_s) = (false, draw.waiting(*every_s));
                let low = amplitude(-depth_db) as f32;
                let dip = |(n, s): (usize, &Complex<f32>)| {
                    while n as f64 / rate > until_s {
                        down = !down;
                        until_s += draw.waiting(if down { *lasts_s } else { *every_s });
                    }
                    if down { s * low } else { *s }
                };
                sent.iter().enumerate().map(dip).collect()
            }
            Path::Slow { swing_db, period_s } => {
                let begin = draw.range(0.0, 1.0);
                let swell = |(n, s): (usize, &Complex<f32>)| {
                    let turn = begin + n as f64 / rate / period_s;
                    s * amplitude(swing_db / 2.0 * (TAU * turn).sin()) as f32
                };
                sent.iter().enumerate().map(swell).collect()
            }
        }
    }
}

/// A complex Gaussian gain of mean power `share` squared, on the grid.
fn fading(
    spread_hz: f64,
    share: f64,
    samples: usize,
    rate: f64,
    draw: &mut Draw,
) -> Vec<Complex<f32>> {
    let waves: Vec<(f64, f64)> = (0..WAVES)
        .map(|_| (spread_hz / 2.0 * draw.gauss()[0], draw.range(0.0, 1.0)))
        .collect();
    let high = share / (WAVES as f64).sqrt();
    let gain = |k: usize| {
        let at_s = k as f64 / GRID_HZ;
        let turns = waves.iter().map(|(hz, begin)| TAU * (hz * at_s + begin));
        let sum: Complex<f64> = turns.map(|t| Complex::from_polar(high, t)).sum();
        Complex::new(sum.re as f32, sum.im as f32)
    };
    let points = (samples as f64 / rate * GRID_HZ) as usize + 2;
    (0..points).map(gain).collect()
}

/// The gain at sample `n`.
fn between(gain: &[Complex<f32>], n: usize, rate: f64) -> Complex<f32> {
    let at = n as f64 / rate * GRID_HZ;
    let (k, part) = (at as usize, at.fract() as f32);
    gain[k] * (1.0 - part) + gain[k + 1] * part
}
