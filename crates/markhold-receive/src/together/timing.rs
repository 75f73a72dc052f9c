//! How far two receivers' clocks are apart, by what both copied.
//!
//! Two copies of one transmission have the same codes at the same distances. Over a minute two
//! clocks differ by the same, to some hundredths of an element: all pairs of characters vote for
//! their difference, by how much likelier one code in common makes what both say. From the
//! best minute a line is fitted outward, for clocks go at different rates.

use crate::event::Character;
use crate::pair::companion::OwnTime;

/// Clocks are at most so far apart, s.
const MOST_APART_S: f64 = 30.0;
/// Clocks go at rates that differ by at most this.
const MOST_RATE: f64 = 400e-6;
/// A stretch in which they differ by the same, s.
const MINUTE_S: f64 = 60.0;
/// Width in which votes are counted, s: what a minute at the rates that crystals have adds up to.
const BIN_S: f64 = 0.012;
/// Log odds by which a difference beats chance, and any other one.
const LEAST: f32 = 30.0;
const AHEAD: f32 = 12.0;
/// A pair of characters whose codes are so likely the same, natural logarithm over chance, and
/// that lie so near the line, s, is one character.
const SAME: f32 = 1.0;
const NEAR_S: f64 = 0.012;
/// Characters in common of which a line is fitted.
const FEW: usize = 16;
/// No pair counts for more than this, or against for more.
const CLIP: (f32, f32) = (-2.0, 3.5);

/// A character, and when.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Beat {
    /// Begin of its start element, s.
    pub at_s: f64,
    /// Probability of each code.
    pub codes: [f32; 32],
}

impl Beat {
    /// By its signal alone.
    pub fn of(character: &Character) -> Self {
        let known = character.codes.as_ref().map(|c| c.shares());
        let one = || {
            let mut codes = [(1.0 - character.probability).max(0.0) / 31.0; 32];
            codes[usize::from(character.code.value())] = character.probability;
            codes
        };
        // Nothing is more certain than that something is wrong with it.
        let codes = known.unwrap_or_else(one).map(|p| p + 1e-3);
        let sum: f32 = codes.iter().sum();
        Self {
            at_s: character.start_s,
            codes: codes.map(|p| p / sum),
        }
    }

    /// What is known of its code, bits.
    pub fn information(&self) -> f32 {
        5.0 + self.codes.iter().map(|p| p * p.log2()).sum::<f32>()
    }
}

/// How often each code is sent.
fn frequencies(beats: &[Beat]) -> [f32; 32] {
    let mut sums = [0.25f32; 32];
    for beat in beats {
        sums.iter_mut().zip(beat.codes).for_each(|(s, p)| *s += p);
    }
    let total: f32 = sums.iter().sum();
    sums.map(|s| s / total)
}

/// Log odds that two are of one character, over chance.
fn same(a: &Beat, b: &Beat, frequencies: &[f32; 32]) -> f32 {
    let each = a.codes.iter().zip(&b.codes).zip(frequencies);
    let odds: f32 = each.map(|((a, b), f)| a * b / f).sum();
    odds.ln().clamp(CLIP.0, CLIP.1)
}

/// The time of `b`'s clock by `a`'s; `None` if the two have not enough in common, or in common
/// at more than one difference. Both in order of time.
pub(super) fn own_time(a: &[Beat], b: &[Beat]) -> Option<OwnTime> {
    let frequencies = frequencies(a);
    let minutes = a.chunk_by(|x, y| (x.at_s / MINUTE_S) as i64 == (y.at_s / MINUTE_S) as i64);
    let mut tried: Vec<&[Beat]> = minutes.collect();
    let says = |m: &&[Beat]| m.iter().map(Beat::information).sum::<f32>();
    tried.sort_by(|x, y| says(y).total_cmp(&says(x)));
    let mut tried = tried.into_iter().take(4);
    let (minute, by_s) = tried.find_map(|m| Some((m, difference(m, b, &frequencies)?)))?;
    let middle_s = (minute[0].at_s + minute[minute.len() - 1].at_s) / 2.0;
    line(a, b, &frequencies, (middle_s, by_s))
}

/// Those of a list from one time to another.
fn between(beats: &[Beat], from_s: f64, to_s: f64) -> &[Beat] {
    let from = beats.partition_point(|b| b.at_s < from_s);
    let to = beats.partition_point(|b| b.at_s <= to_s);
    &beats[from..to.max(from)]
}

/// By how much `b`'s clock is ahead in a minute.
fn difference(minute: &[Beat], b: &[Beat], frequencies: &[f32; 32]) -> Option<f64> {
    let bins = (2.0 * MOST_APART_S / BIN_S) as usize + 2;
    let mut votes = vec![0.0f32; bins];
    for one in minute {
        for other in between(b, one.at_s - MOST_APART_S, one.at_s + MOST_APART_S) {
            let at = (other.at_s - one.at_s + MOST_APART_S) / BIN_S;
            votes[at as usize] += same(one, other, frequencies);
        }
    }
    // What lies across an edge of two counts as well.
    let pairs: Vec<f32> = votes.windows(2).map(|w| w[0] + w[1]).collect();
    let best = (0..pairs.len()).max_by(|x, y| pairs[*x].total_cmp(&pairs[*y]))?;
    let others = pairs
        .iter()
        .enumerate()
        .filter(|(k, _)| k.abs_diff(best) > 2);
    let second = others.map(|o| *o.1).fold(0.0, f32::max);
    let clear = pairs[best] > LEAST && pairs[best] - second > AHEAD;
    clear.then(|| (best + 1) as f64 * BIN_S - MOST_APART_S)
}

/// The line through what both have in common, from around an instant at which the clocks differ
/// by `by_s` outward.
fn line(
    a: &[Beat],
    b: &[Beat],
    frequencies: &[f32; 32],
    (middle_s, by_s): (f64, f64),
) -> Option<OwnTime> {
    let (mut at, mut slope) = (by_s, 0.0);
    let mut reach_s = MINUTE_S / 2.0;
    let span_s = a[a.len() - 1].at_s - a[0].at_s;
    let mut count;
    loop {
        let near_s = if slope == 0.0 { 2.0 * NEAR_S } else { NEAR_S };
        let mut pairs = Vec::new();
        for one in between(a, middle_s - reach_s, middle_s + reach_s) {
            let t = one.at_s - middle_s;
            let expected = one.at_s + at + slope * t;
            let near = between(b, expected - near_s, expected + near_s);
            let likely = near.iter().filter(|o| same(one, o, frequencies) > SAME);
            pairs.extend(likely.map(|o| (t, o.at_s - one.at_s)));
        }
        count = pairs.len();
        if count >= FEW {
            (at, slope) = fitted(&pairs);
        }
        if reach_s > span_s {
            break;
        }
        reach_s *= 1.6;
    }
    let fits = count >= FEW && slope.abs() < MOST_RATE;
    fits.then_some(OwnTime {
        at_zero_s: at - slope * middle_s,
        rate: 1.0 + slope,
    })
}

/// Value at 0 and slope of the line through points, by least squares; a slope that few points
/// do not tell is none.
fn fitted(points: &[(f64, f64)]) -> (f64, f64) {
    let count = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (t, d) = (mean(|p| p.0), mean(|p| p.1));
    let spread: f64 = points.iter().map(|p| (p.0 - t).powi(2)).sum();
    let both: f64 = points.iter().map(|p| (p.0 - t) * (p.1 - d)).sum();
    // As if the clocks had been found alike before, to 200 ppm, by readings good to 3 ms.
    let slope = both / (spread + (3e-3f64 / 2e-4).powi(2));
    (d - slope * t, slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Characters at 45.45 baud and 7.5 units, of codes drawn by a formula, read well or badly.
    fn beats(count: usize, clock: OwnTime, wrong: u32) -> Vec<Beat> {
        let mut random = 12345u32;
        let mut draw = move || {
            random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            random >> 16
        };
        let one = |k: usize| {
            let (code, other, jitter) = (draw() % 32, draw() % 32, draw() % 100);
            let bad = (k as u32).wrapping_mul(2_654_435_761) >> 24 < wrong;
            let read = if bad { other } else { code };
            let mut codes = [0.4 / 31.0; 32];
            codes[read as usize] = 0.6;
            Beat {
                at_s: clock.at(3.0 + 0.165 * k as f64) + 4e-5 * (f64::from(jitter) - 50.0),
                codes,
            }
        };
        (0..count).map(one).collect()
    }

    const SAME_CLOCK: OwnTime = OwnTime {
        at_zero_s: 0.0,
        rate: 1.0,
    };

    #[test]
    fn clocks_apart_and_at_another_rate_are_told_to_a_millisecond() {
        for (at_zero_s, ppm) in [(3.0, 200.0), (-7.31, -200.0), (0.0, 0.0), (21.0, 90.0)] {
            let clock = OwnTime {
                at_zero_s,
                rate: 1.0 + ppm * 1e-6,
            };
            // Every third wrong, in other places of both.
            let (a, b) = (beats(3000, SAME_CLOCK, 80), beats(3100, clock, 60));
            let found = own_time(&a, &b).expect("in common");
            for t in [3.0, 250.0, 490.0] {
                let off_ms = 1e3 * (found.at(t) - clock.at(t));
                assert!(
                    off_ms.abs() < 1.0,
                    "{at_zero_s} s, {ppm} ppm: {off_ms} ms at {t} s"
                );
            }
            let back = found.back(found.at(77.0));
            assert!((back - 77.0).abs() < 1e-9);
        }
    }

    #[test]
    fn other_texts_and_one_line_over_and_over_tell_nothing() {
        let a = beats(1000, SAME_CLOCK, 0);
        let mut other = beats(2000, SAME_CLOCK, 0).split_off(1000);
        other.iter_mut().for_each(|b| b.at_s -= 165.0);
        assert_eq!(own_time(&a, &other), None);
        let mut rows = a.clone();
        let (r, y) = (a[0].codes, a[1].codes);
        rows.iter_mut()
            .enumerate()
            .for_each(|(k, b)| b.codes = if k % 2 == 0 { r } else { y });
        assert_eq!(own_time(&rows, &rows), None);
        assert_eq!(own_time(&a, &[]), None);
        assert_eq!(own_time(&[], &a), None);
    }
}
