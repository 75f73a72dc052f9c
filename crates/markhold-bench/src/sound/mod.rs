//! Edges out of sound.
//!
//! ```text
//!  sound -> tones? -> narrow stream -> frequency (or amplitude) -> smoothed -> crossings -> edges
//! ```
//!
//! A frequency discriminator, smoothed by a Hann window half an element long, finds the
//! instant at which the frequency passes the middle of the two tones. The other way, the
//! difference of the tones' amplitudes, was measured beside it (`checks/edge_methods.py`): at
//! 45.45 baud, 170 Hz and Es/N0 of 20 dB it scatters by 1.8 % of an element, the discriminator
//! by 1.0 %; at 75 baud and 850 Hz it is 2.5 and 0.9 %. At 15 dB, where clicks begin, neither
//! is good enough to judge a line by.
//!
//! The window is symmetric, so what it does to an edge is symmetric too: the crossing stays
//! where the edge was as long as no other edge is within half the window.

mod contact;
mod crossings;
mod discriminator;
mod pair;
mod stream;
mod tones;

pub use pair::Pair;
pub use tones::{find_carrier, find_pair};

use crate::line::Edge;
use crate::measure::unit::rough_unit_s;
use discriminator::Curve;
use stream::Stream;

/// What kind of keying the sound holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Keying {
    /// Two tones; found if left out.
    Tones(Option<Pair>),
    /// One tone, on for mark, Hz; found if left out. A contact that keys an audio tone, or a
    /// keyed carrier.
    Carrier(Option<f64>),
    /// The voltage of a line contact as a sound input passes it; a jump up is mark.
    Contact,
}

/// What was heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Edges; for two tones the lower one is taken as mark.
    pub line: Vec<Edge>,
    /// The tones, Hz; for one tone both are the same, for a contact there is none.
    pub pair: Option<Pair>,
    /// Error of an edge's time from noise, rms, s.
    pub noise_s: f64,
    /// Largest error that noise may give an edge, s: the most seen where no edge was.
    pub worst_s: f64,
    /// Error of the method that more characters do not average away, s.
    pub systematic_s: f64,
}

/// Why nothing could be heard.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum HearError {
    /// No tone stands out.
    #[error("no keyed tones stand out of this sound; give the tones if you know them")]
    NoTones,
    /// One tone only.
    #[error(
        "only one tone stands out, at {hz:.0} Hz; if it is keyed on and off say so \
         (one keyed tone), else give both tones"
    )]
    OneTone {
        /// Where it is, Hz.
        hz: f64,
    },
    /// Tones that the sampling rate cannot hold, or that are no pair.
    #[error(
        "tones of {low_hz:.0} and {high_hz:.0} Hz make no pair here; give two different tones \
         between 50 Hz and {most_hz:.0} Hz"
    )]
    Pair {
        /// Lower tone, Hz.
        low_hz: f64,
        /// Higher tone, Hz.
        high_hz: f64,
        /// Highest usable, Hz.
        most_hz: f64,
    },
    /// Keying is hardly there.
    #[error("{found} transitions heard, too few for a line; is it keyed at all?")]
    NoKeying {
        /// Transitions found.
        found: usize,
    },
}

/// Half a rough unit is the window, but first that is not known: 8 ms suit 45 to 100 baud.
const FIRST_WINDOW_S: f64 = 0.008;
/// The first filter is flat so far beyond the tones, Hz: twice 100 Bd.
const FIRST_FLAT_HZ: f64 = 200.0;
/// Window over unit, how far the filter is flat beyond the tones over the unit's rate, and
/// the scatter of an edge, share of a unit, up to which no other is tried: steep edges at good
/// signals, a narrow filter and then a longer window in noise.
const WINDOWS: [(f64, f64, f64); 3] = [
    (0.5, 3.0, 0.003),
    (0.5, 1.5, 0.015),
    (0.75, 1.3, f64::INFINITY),
];
/// What the sweeps of `tests/sound.rs` leave on clean sound, share of a unit.
const SYSTEMATIC: f64 = 0.0025;

/// Hears the edges of a keyed line in sound sampled at `rate_hz`. The nominal rate, where it
/// is known, spares a look for it that noise can mislead.
///
/// # Errors
///
/// No tones, no pair, or no keying.
pub fn hear(
    samples: &[f32],
    rate_hz: f64,
    keying: Keying,
    nominal_baud: Option<f64>,
) -> Result<Heard, HearError> {
    let pair = match keying {
        Keying::Contact => return hear_contact(samples, rate_hz),
        Keying::Tones(given) => given.map_or_else(|| find_pair(samples, rate_hz), Ok)?,
        Keying::Carrier(given) => {
            let hz = given.map_or_else(|| find_carrier(samples, rate_hz), Ok)?;
            Pair {
                low_hz: hz,
                high_hz: hz,
            }
        }
    };
    pair.check(rate_hz, matches!(keying, Keying::Tones(_)))?;
    let unit_s = match nominal_baud {
        Some(baud) => 1.0 / baud,
        None => rough_unit(samples, rate_hz, pair)?,
    };
    // Glitches make the rough unit short; rates beyond 400 Bd and below 20 are not met with.
    let unit_s = unit_s.clamp(1.0 / 400.0, 1.0 / 20.0);
    let mut best = None;
    for (window, flat, fine) in WINDOWS {
        let smoothing = Smoothing {
            window_s: window * unit_s,
            flat_hz: flat / unit_s,
        };
        let curve = curve(samples, rate_hz, pair, smoothing)?;
        let line = crossings::edges(&curve);
        let (noise_s, worst_s) = crossings::noise_s(&curve, &line);
        best = Some(Heard {
            line,
            pair: Some(curve.pair),
            noise_s,
            worst_s,
            systematic_s: SYSTEMATIC * unit_s,
        });
        if noise_s < fine * unit_s {
            break;
        }
    }
    let heard = best.ok_or(HearError::NoTones)?;
    match heard.line.len() {
        0..5 => Err(HearError::NoKeying {
            found: heard.line.len(),
        }),
        _ => Ok(heard),
    }
}

/// A first idea of the unit, s.
fn rough_unit(samples: &[f32], rate_hz: f64, pair: Pair) -> Result<f64, HearError> {
    let first = Smoothing {
        window_s: FIRST_WINDOW_S,
        flat_hz: FIRST_FLAT_HZ,
    };
    let line = crossings::edges(&curve(samples, rate_hz, pair, first)?);
    rough_unit_s(&line).ok_or(HearError::NoKeying { found: line.len() })
}

fn hear_contact(samples: &[f32], rate_hz: f64) -> Result<Heard, HearError> {
    let jumps = contact::jumps(samples, rate_hz)?;
    match jumps.line.len() {
        found @ 0..5 => Err(HearError::NoKeying { found }),
        _ => Ok(Heard {
            line: jumps.line,
            pair: None,
            noise_s: jumps.noise_s,
            worst_s: 3.0 * jumps.noise_s,
            systematic_s: 0.0,
        }),
    }
}

/// How the stream is filtered and smoothed.
#[derive(Clone, Copy, Debug)]
struct Smoothing {
    /// Length of the Hann window, s.
    window_s: f64,
    /// How far the filter is flat beyond the tones, Hz.
    flat_hz: f64,
}

/// The smoothed curve that crosses 0 at the edges.
fn curve(
    samples: &[f32],
    rate_hz: f64,
    pair: Pair,
    smoothing: Smoothing,
) -> Result<Curve, HearError> {
    let one_tone = pair.low_hz == pair.high_hz;
    let stream = Stream::new(samples, rate_hz, pair, smoothing.flat_hz);
    let curve = if one_tone {
        discriminator::amplitude(&stream, smoothing.window_s)
    } else {
        discriminator::frequency(&stream, pair, smoothing.window_s)
    };
    curve.ok_or(HearError::NoTones)
}
