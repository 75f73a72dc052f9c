//! The textbook receiver: the floor below which copy must never fall.
//!
//! Two filters about as long as one element, their envelopes, a comparison that knows how far
//! each tone has faded, a start edge, five looks at the middles of elements, a look at the stop
//! element, a shift machine. It is told what a person would tune and set: both tones, the
//! modulation rate and the habits of the machine. It shares nothing with the receiver.

use crate::evenings::alphabet::{Machine, Row};
use markhold_transform::Complex;
use std::f64::consts::TAU;

/// What a person tunes and sets.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    pub mark_hz: f64,
    pub space_hz: f64,
    pub baud: f64,
    pub row: Row,
    pub unshift: bool,
}

/// Looks an element.
const LOOKS: usize = 16;
/// Each filter is two running means of so many elements, one after the other: as good in noise
/// as one of a whole element, and better against the other tone where tones are close (40 %
/// fewer errors over six recordings of each of five kinds).
const MEAN: f64 = 0.6;
/// How fast the height of a tone follows its envelope while it is the stronger one, elements.
const FOLLOWS: f64 = 4.0;
/// How fast the height sinks while the other tone is the stronger one, elements: slowly, so that a
/// tone that is not keyed for some characters keeps its height; one that has faded loses it.
const SINKS: f64 = 30.0;
/// How fast a tone's noise floor follows its envelope while the other one is stronger, elements.
const FLOOR: f64 = 60.0;
/// The squelch looks at so many seconds.
const SQUELCH_S: f64 = 1.5;
/// It opens where the stronger envelope is on average so many times the weaker: 1.83 is
/// noise (the larger and smaller of two Rayleigh envelopes), 2.4 a signal of 6 dB.
const OPEN: f64 = 2.15;

/// What it prints, from the begin of the sound to its end.
pub fn read(sound: &[f32], rate: f64, told: &Told) -> String {
    let mark = envelope(sound, rate, told.mark_hz, told.baud);
    let space = envelope(sound, rate, told.space_hz, told.baud);
    let line = compare(&mark, &space);
    let open = squelch(&mark, &space, told.baud);
    let mut machine = Machine::new(told.row, told.unshift);
    characters(&line, &open)
        .into_iter()
        .filter_map(|code| machine.print(code))
        .collect()
}

/// The tone's envelope at each look.
fn envelope(sound: &[f32], rate: f64, hz: f64, baud: f64) -> Vec<f64> {
    let mut sum = Complex::new(0.0, 0.0);
    let mut sums = vec![sum];
    let mut turn = 0.0;
    for sample in sound {
        sum += Complex::from_polar(f64::from(*sample), TAU * turn);
        sums.push(sum);
        turn = (turn + 1.0 - hz / rate).fract();
    }
    let half = MEAN * rate / baud / 2.0;
    let at = |place: f64| sums[(place.max(0.0) as usize).min(sound.len())];
    let looks = (sound.len() as f64 / rate * baud * LOOKS as f64) as usize;
    let mean = |k: usize| {
        let middle = k as f64 * rate / baud / LOOKS as f64;
        at(middle + half) - at(middle - half)
    };
    let first: Vec<Complex<f64>> = (0..looks).map(mean).collect();
    let reach = (MEAN * LOOKS as f64 / 2.0).round() as usize;
    let second = |k: usize| {
        let about = k.saturating_sub(reach)..(k + reach + 1).min(looks);
        first[about].iter().sum::<Complex<f64>>().norm()
    };
    (0..looks).map(second).collect()
}

/// How sure the line is at mark (above 0) or space (below): which of two points is nearer,
/// mark at its height and space at its floor, or the other way. A tone that is gone has no
/// height and no say.
fn compare(mark: &[f64], space: &[f64]) -> Vec<f64> {
    let (m, s) = (heights(mark, space), heights(space, mark));
    let nearer = |((m, height_m), (s, height_s)): (&(f64, f64), &(f64, f64))| {
        height_m * (m - height_m / 2.0) - height_s * (s - height_s / 2.0)
    };
    m.iter().zip(&s).map(nearer).collect()
}

/// Each envelope above its floor, at most at its height, and that height above the floor.
fn heights(envelope: &[f64], other: &[f64]) -> Vec<(f64, f64)> {
    let step = |elements: f64| 1.0 - (-1.0 / (elements * LOOKS as f64)).exp();
    let (follows, sinks, floor) = (step(FOLLOWS), step(SINKS), step(FLOOR));
    let (mut high, mut low) = (0.0, 0.0);
    let follow = |(e, other): (&f64, &f64)| {
        high += if e > other { follows } else { sinks } * (e - high);
        low += if e < other { floor } else { 0.0 } * (e - low);
        let height = (high - low).max(0.0);
        ((e - low).clamp(0.0, height), height)
    };
    envelope.iter().zip(other).map(follow).collect()
}

/// Whether there is a signal, at each look: about it, and in the character that would begin.
fn squelch(mark: &[f64], space: &[f64], baud: f64) -> Vec<bool> {
    let reach = (SQUELCH_S * baud * LOOKS as f64 / 2.0) as usize;
    let mut sums = vec![(0.0, 0.0)];
    for (m, s) in mark.iter().zip(space) {
        let (strong, weak) = *sums.last().expect("never empty");
        sums.push((strong + m.max(*s), weak + m.min(*s)));
    }
    let opens = |from: usize, until: usize| {
        let (from, until) = (sums[from], sums[until.min(mark.len())]);
        until.0 - from.0 > OPEN * (until.1 - from.1)
    };
    let look = |k: usize| opens(k.saturating_sub(reach), k + reach) && opens(k, k + 7 * LOOKS);
    (0..mark.len()).map(look).collect()
}

/// Codes: from each fall to space, the middles of the start element, of five code elements
/// and of the stop element. A start that is no longer space or a stop that is not mark was
/// none; then the next fall is tried.
fn characters(line: &[f64], open: &[bool]) -> Vec<u8> {
    let mut codes = Vec::new();
    let mut k = 1;
    while k + 7 * LOOKS < line.len() {
        let falls = line[k - 1] > 0.0 && line[k] <= 0.0;
        let middle = |element: usize| line[k + element * LOOKS + LOOKS / 2] > 0.0;
        if open[k] && falls && !middle(0) && middle(6) {
            codes.push((1..6).fold(0, |code, e| code | u8::from(middle(e)) << (e - 1)));
            k += 6 * LOOKS + LOOKS / 2;
        } else {
            k += 1;
        }
    }
    codes
}
