//! Swept: whether tones of a pair are no more than places that one tone passes.
//!
//! A picture's tone follows the brightness through all frequencies between black and white, a
//! sender of many tones steps from one to the next. Of two places on its way each has energy
//! when the other has none, and line after line brings it back in time: read as a pair, that is
//! keyed and keeps a clock. What it is not: complete. When neither of the two is there, the tone
//! is somewhere else; while one of them is there, it is not. A neighbour, a carrier or Morse
//! beside a pair is there at either time.

use std::ops::RangeInclusive;
use std::sync::Arc;

use markhold_signal::{Band, BandPlan, Complex32};
use markhold_transform::Fft;

use crate::pair::tones::ToneCutter;

/// Length of a look under a Hann window, s, and from one to the next: its bins are 50 Hz apart,
/// and pictures go from dark to light and back in less than 40 ms.
const LOOK_S: f64 = 0.02;
const STEP_S: f64 = 0.005;
/// How far beyond the tones the one may go, Hz: black and white of pictures lie 800 apart.
const BEYOND_HZ: f64 = 900.0;
/// Samples a second of the stream that holds all that, and half the width it passes, Hz.
const STREAM_HZ: f64 = 4000.0;
const HALF_HZ: f64 = 1800.0;
/// Other places lie so far from the tones at least, Hz: a tone reaches there 31 dB down.
const APART_HZ: f64 = 125.0;
/// A tone is there from this share of its power while sent, and so far over noise.
const THERE: f32 = 0.2;
const OVER_NOISE: f32 = 4.0;
/// Something else is there from this share of the strongest that is there at most times, and
/// so far over noise, of which some place of a hundred always has much.
const ELSEWHERE: f32 = 0.35;
const ELSEWHERE_OVER_NOISE: f32 = 10.0;
/// "The strongest at most times" is this quantile.
const MOST_TIMES: f64 = 0.8;
/// A pause is none of the pair's way: only looks count with the pair there within so much
/// before and after, s. That is a character of most.
const BETWEEN_S: f64 = 0.25;
/// How strong the tones are is asked for each piece so long by itself, s: what slides across them
/// and is stronger hides them in its piece only.
const PIECE_S: f64 = 1.0;
/// One tone is as strong wherever it is: what is stronger than so many times the pair's usual power is
/// somebody else's, and tells nothing. Receivers' passbands slope by less.
const SOMEBODY_ELSE: f32 = 8.0;
/// What slides across a tone and is stronger than so many times the tone's usual power hides it no
/// more than that does: fading doubles it.
const SLIDES: f32 = 2.0;
/// The usual power is that of most pieces where there are so many.
const MOST_PIECES: usize = 5;
/// Looks without the pair and with something else, at least, for each with the pair. Measured
/// in pictures: 0.2 to 3.6; most pairs have next to none.
const INCOMPLETE: f32 = 0.25;
/// Something else is there so often while the pair is, for how often it is while the pair is
/// not: in pictures, and beside a pair at least. Measured: pictures 0.1 to 0.5, beside pairs 0.7
/// and more, 0.6 where strong Morse turns the receiver's gain down.
const EXCLUDED: f32 = 0.375;
const BESIDE: f32 = 0.75;
/// Evidence for the one over the other, natural logarithm.
pub const LEAST_EVIDENCE: f32 = 10.0;

/// Looks by what was there. Each counts by the part of it that is new.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Looks {
    both: f32,
    pair: f32,
    other: f32,
    neither: f32,
}

/// Asks whether pairs are swept.
pub struct Sweeps {
    cutter: ToneCutter,
    transform: Option<(f64, Arc<dyn Fft<f32>>)>,
}

impl Sweeps {
    /// For one sampling plan.
    pub fn new(plan: BandPlan) -> Self {
        Self {
            cutter: ToneCutter::wide(plan, HALF_HZ, STREAM_HZ),
            transform: None,
        }
    }

    /// Evidence that one tone passes these, of a pair or one that is keyed alone, Hz, within a
    /// stretch, s; natural logarithm, none where the pair is complete. `density` is noise power for
    /// each Hz of bandwidth at each tone, `power` the tones' own while sent, where that is known.
    pub fn evidence(
        &mut self,
        band: &Band,
        tones_hz: &[f64],
        density: &[f32],
        power: Option<&[f32]>,
        stretch: (f64, f64),
    ) -> f32 {
        let (seen, bin_hz) = self.seen(band, tones_hz, stretch);
        let pieces: Vec<&[Seen]> = seen.chunks((PIECE_S / STEP_S) as usize).collect();
        let tones = 0..tones_hz.len();
        let usual = tones.map(|k| match power {
            Some(power) => power[k],
            None => usual(&pieces, k),
        });
        let usual: Vec<f32> = usual.collect();
        // A Hann window passes one and a half of its bins.
        let noise: Vec<f32> = density.iter().map(|d| 1.5 * d * bin_hz as f32).collect();
        let looks = pieces.iter().map(|seen| count(seen, &noise, &usual));
        looks.fold(Looks::default(), Looks::and).swept()
    }

    /// All looks within a stretch, and the distance of their bins, Hz.
    fn seen(
        &mut self,
        band: &Band,
        tones_hz: &[f64],
        (from_s, to_s): (f64, f64),
    ) -> (Vec<Seen>, f64) {
        let (low, high) = (tones_hz[0], tones_hz[tones_hz.len() - 1]);
        let middle_hz = (low + high) / 2.0;
        let stream = self.cutter.cut(band, middle_hz, from_s, to_s);
        let (length, transform) = self.transform(stream.rate_hz());
        let bin_hz = stream.rate_hz() / length as f64;
        let bin = |hz: f64| ((hz - stream.centre_hz()) / bin_hz).round() as i64;
        let half = ((high - low) / 2.0 + BEYOND_HZ).min(HALF_HZ);
        let places = Places {
            tones: tones_hz.iter().map(|hz| bin(*hz)).collect(),
            reach: bin(middle_hz - half)..=bin(middle_hz + half),
            apart: (APART_HZ / bin_hz).ceil() as i64,
        };
        let step = (STEP_S * stream.rate_hz()).round() as usize;
        let window = hann(length);
        let mut spectrum = vec![Complex32::default(); length];
        let looks = stream.samples().windows(length).step_by(step);
        let look = |samples: &[Complex32]| {
            let weighted = samples.iter().zip(&window).map(|(y, w)| y * w);
            spectrum.iter_mut().zip(weighted).for_each(|(s, y)| *s = y);
            transform.process(&mut spectrum);
            places.see(&spectrum)
        };
        (looks.map(look).collect(), bin_hz)
    }

    /// The transform for a sampling rate, and its length.
    fn transform(&mut self, rate_hz: f64) -> (usize, Arc<dyn Fft<f32>>) {
        let length = (LOOK_S * rate_hz).round() as usize;
        let (_, transform) = self
            .transform
            .take()
            .filter(|(rate, _)| *rate == rate_hz)
            .unwrap_or_else(|| (rate_hz, markhold_transform::forward(length)));
        self.transform = Some((rate_hz, transform.clone()));
        (length, transform)
    }
}

/// A Hann window under which a tone has the power of its samples.
fn hann(length: usize) -> Vec<f32> {
    let turn = |n: usize| std::f32::consts::TAU * n as f32 / length as f32;
    (0..length)
        .map(|n| (1.0 - turn(n).cos()) / length as f32)
        .collect()
}

/// Bins of a look, counted from the middle of the stream.
struct Places {
    tones: Vec<i64>,
    reach: RangeInclusive<i64>,
    apart: i64,
}

/// Power in one look: of the tones, and of the strongest of all other places.
#[derive(Clone, Debug)]
struct Seen {
    tones: Vec<f32>,
    other: f32,
}

impl Places {
    fn see(&self, spectrum: &[Complex32]) -> Seen {
        let at = |bin: i64| spectrum[bin.rem_euclid(spectrum.len() as i64) as usize].norm_sqr();
        let most = |bins: &mut dyn Iterator<Item = i64>| bins.map(at).fold(0.0, f32::max);
        let is_apart = |bin: &i64| self.tones.iter().all(|t| (t - bin).abs() >= self.apart);
        let tones = self.tones.iter();
        Seen {
            tones: tones.map(|tone| most(&mut (tone - 1..=tone + 1))).collect(),
            other: most(&mut self.reach.clone().filter(is_apart)),
        }
    }
}

/// Power of a tone while it is there, whatever part of the time that is.
fn while_there(power: impl Iterator<Item = f32> + Clone) -> f32 {
    let squares: f32 = power.clone().map(|p| p * p).sum();
    squares / power.sum::<f32>().max(f32::MIN_POSITIVE)
}

/// Power of a tone while it is there, as in most pieces: without bound where there are few.
fn usual(pieces: &[&[Seen]], k: usize) -> f32 {
    let sent = pieces
        .iter()
        .map(|seen| while_there(seen.iter().map(|s| s.tones[k])));
    let mut sent: Vec<f32> = sent.collect();
    sent.sort_by(f32::total_cmp);
    match sent.len() < MOST_PIECES {
        true => f32::INFINITY,
        false => sent[sent.len() / 2],
    }
}

fn count(seen: &[Seen], noise: &[f32], usual: &[f32]) -> Looks {
    let least = |k: usize| {
        let sent = while_there(seen.iter().map(|s| s.tones[k]));
        let own = sent.min(SLIDES * usual[k]);
        (THERE * own).max(OVER_NOISE * noise[k])
    };
    let least: Vec<f32> = (0..noise.len()).map(least).collect();
    let is_there = |s: &Seen| s.tones.iter().zip(&least).any(|(p, least)| p > least);
    let pair: Vec<bool> = seen.iter().map(is_there).collect();
    let quiet = noise.iter().copied().fold(f32::INFINITY, f32::min);
    let elsewhere = (ELSEWHERE * strongest(seen)).max(ELSEWHERE_OVER_NOISE * quiet);
    let strangers = SOMEBODY_ELSE * usual.iter().copied().fold(0.0, f32::max);
    let reach = (BETWEEN_S / STEP_S) as usize;
    let mut looks = Looks::default();
    for (i, s) in seen.iter().enumerate() {
        let before = &pair[i.saturating_sub(reach)..=i];
        let after = &pair[i..(i + reach).min(pair.len())];
        let is_strange = s
            .tones
            .iter()
            .chain([&s.other])
            .any(|power| *power > strangers);
        if is_strange || !before.contains(&true) || !after.contains(&true) {
            continue;
        }
        let which = match (pair[i], s.other > elsewhere) {
            (true, true) => &mut looks.both,
            (true, false) => &mut looks.pair,
            (false, true) => &mut looks.other,
            (false, false) => &mut looks.neither,
        };
        // The middle half of a Hann window holds nearly all of it.
        *which += (STEP_S / (LOOK_S / 2.0)) as f32;
    }
    looks
}

/// Power of the strongest that there is at most times.
fn strongest(seen: &[Seen]) -> f32 {
    let mut most: Vec<f32> = seen
        .iter()
        .map(|s| s.tones.iter().copied().fold(s.other, f32::max))
        .collect();
    most.sort_by(f32::total_cmp);
    let place = (most.len() as f64 * MOST_TIMES) as usize;
    most.get(place).copied().unwrap_or(0.0)
}

impl Looks {
    fn and(self, more: Self) -> Self {
        Self {
            both: self.both + more.both,
            pair: self.pair + more.pair,
            other: self.other + more.other,
            neither: self.neither + more.neither,
        }
    }

    fn swept(&self) -> f32 {
        let while_pair = self.both + self.pair;
        match self.other > INCOMPLETE * while_pair {
            true => self.evidence(),
            false => self.evidence().min(0.0),
        }
    }

    /// Evidence for [`EXCLUDED`] over [`BESIDE`].
    fn evidence(&self) -> f32 {
        // One look of each kind more, so that few do not say much.
        let often = (self.other + 1.0) / (self.other + self.neither + 2.0);
        let [excluded, beside] = [EXCLUDED, BESIDE].map(|share| share * often);
        let without = (1.0 - excluded) / (1.0 - beside);
        self.both * (excluded / beside).ln() + self.pair * without.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, Random, levelled};
    use std::f64::consts::TAU;

    const SECONDS: f64 = 8.0;
    const NOISE: f64 = 0.02;

    /// Sound of one tone that is where `hz` says, with noise and whatever is added.
    fn roaming(hz: impl Fn(f64) -> f64, added: impl Fn(f64) -> f64) -> Vec<f32> {
        let mut random = Random::new(7);
        let mut phase = 0.0;
        (0..(SECONDS * RATE_HZ) as usize)
            .map(|n| {
                let t = n as f64 / RATE_HZ;
                phase += TAU * hz(t) / RATE_HZ;
                (0.1 * f64::cos(phase) + NOISE * random.normal() + added(t)) as f32
            })
            .collect()
    }

    fn is_swept(sound: &[f32], tones_hz: &[f64]) -> bool {
        let levelled = levelled(sound);
        let band = levelled.band();
        let density = vec![(NOISE * NOISE / RATE_HZ) as f32; tones_hz.len()];
        let mut sweeps = Sweeps::new(band.plan());
        let evidence = sweeps.evidence(band, tones_hz, &density, None, (0.0, SECONDS));
        evidence > LEAST_EVIDENCE
    }

    /// Elements of 22 ms at random, 1 at mark.
    fn keyed(tones_hz: [f64; 2], seed: u64) -> impl Fn(f64) -> f64 {
        let mut random = Random::new(seed);
        let elements: Vec<bool> = (0..1000).map(|_| random.uniform() < 0.6).collect();
        move |t| tones_hz[usize::from(elements[(t / 0.022) as usize])]
    }

    /// Lines of half a second between black and white.
    fn scanned(t: f64) -> f64 {
        let along = TAU * t / 0.5;
        let light = 0.5 + 0.4 * (2.0 * along).sin() + 0.4 * (5.0 * along + 0.3 * t).sin();
        1500.0 + 800.0 * light.clamp(0.0, 1.0)
    }

    #[test]
    fn places_that_a_picture_passes_are_swept() {
        let sound = roaming(scanned, |_| 0.0);
        for tones_hz in [&[1505.0, 1925.0][..], &[1675.0, 2100.0], &[1850.0, 2290.0]] {
            assert!(is_swept(&sound, tones_hz), "{tones_hz:?}");
        }
        assert!(is_swept(&sound, &[1505.0]));
    }

    #[test]
    fn tones_of_which_there_are_more_are_swept() {
        let mut random = Random::new(3);
        let steps: Vec<f64> = (0..1000)
            .map(|_| 900.0 + 150.0 * (8.0 * random.uniform()).floor())
            .collect();
        let sound = roaming(|t| steps[(t / 0.032) as usize], |_| 0.0);
        assert!(is_swept(&sound, &[1050.0, 1500.0]));
    }

    #[test]
    fn a_pair_is_not_swept_whatever_is_beside_it() {
        for (seed, tones_hz) in (1..).zip([[1275.0, 1445.0], [1000.0, 1850.0], [2125.0, 2295.0]]) {
            let tone = |level: f64, hz: f64| move |t: f64| level * (TAU * hz * t).cos();
            let alone = roaming(keyed(tones_hz, seed), |_| 0.0);
            assert!(!is_swept(&alone, &tones_hz), "{tones_hz:?} alone");
            let carrier = roaming(keyed(tones_hz, seed), tone(0.3, 1650.0));
            assert!(!is_swept(&carrier, &tones_hz), "{tones_hz:?} and a carrier");
            let key = keyed([0.0, 0.3], seed + 10);
            let morse = |t: f64| key(t / 3.0) * (TAU * 1650.0 * t).cos();
            let beside = roaming(keyed(tones_hz, seed), morse);
            assert!(!is_swept(&beside, &tones_hz), "{tones_hz:?} and Morse");
        }
    }

    /// Somebody tunes across the band, 14 dB stronger: whatever the time is, and also where little is
    /// heard of a pair whose power is known.
    #[test]
    fn a_pair_that_something_slides_across_is_not_swept() {
        for (seed, tones_hz) in (1..).zip([[1275.0, 1445.0], [800.0, 1250.0], [1500.0, 2350.0]]) {
            for (from_hz, per_s) in [(700.0, 200.0), (2900.0, -250.0), (1000.0, 90.0)] {
                let slides = |t: f64| 0.5 * (TAU * (from_hz + 0.5 * per_s * t) * t).cos();
                let sound = roaming(keyed(tones_hz, seed), slides);
                assert!(!is_swept(&sound, &tones_hz), "{tones_hz:?}, {from_hz} Hz");
                let (clean, sound) = (roaming(keyed(tones_hz, seed), |_| 0.0), levelled(&sound));
                let (clean, band) = (levelled(&clean), sound.band());
                let mut sweeps = Sweeps::new(band.plan());
                let (seen, _) = sweeps.seen(clean.band(), &tones_hz, (0.0, SECONDS));
                let power = [0, 1].map(|k| usual(&seen.chunks(200).collect::<Vec<_>>(), k));
                // What slides passes for noise, too.
                let density = [(NOISE * NOISE / RATE_HZ) as f32, power[1] / 50.0];
                for from_s in 0..6 {
                    let stretch = (f64::from(from_s), f64::from(from_s + 2));
                    let found = sweeps.evidence(band, &tones_hz, &density, Some(&power), stretch);
                    assert!(
                        found < LEAST_EVIDENCE / 2.0,
                        "{tones_hz:?} {stretch:?}: {found}"
                    );
                }
            }
        }
    }

    #[test]
    fn a_fading_pair_is_not_swept() {
        let tones_hz = [1275.0, 1445.0];
        let mut sound = roaming(keyed(tones_hz, 5), |_| 0.0);
        let mut random = Random::new(9);
        for (n, y) in sound.iter_mut().enumerate() {
            let fades = (TAU * 0.7 * n as f64 / RATE_HZ).cos();
            *y = (f64::from(*y) * fades + NOISE * random.normal()) as f32;
        }
        assert!(!is_swept(&sound, &tones_hz));
    }
}
