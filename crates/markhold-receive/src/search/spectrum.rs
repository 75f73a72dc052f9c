//! The averaged spectrum: its noise floor, and the tones that stand out of it.

use markhold_signal::{Band, BandPlan, Complex32};

use super::passband::Passband;

/// Time constant of the average, s: some ten characters, long enough for a steady floor.
pub const AVERAGE_S: f64 = 2.0;
/// Time constant of the average of late, s: four characters.
pub const LATE_AVERAGE_S: f64 = 0.7;
/// Lowest frequency that is searched, Hz.
const LOWEST_HZ: f64 = 150.0;
/// Highest frequency that is searched, as a share of half the sampling rate.
const HIGHEST_SHARE: f64 = 0.93;
/// Half the stretch over which the noise floor is taken to be even, Hz.
const FLOOR_HZ: f64 = 300.0;
/// The floor is this quantile of the bins around: signals fill less than the rest.
const FLOOR_QUANTILE: f64 = 0.35;
/// The floor lies no deeper than this below the strongest bin (70 dB): what lies deeper is
/// the arithmetic of the transforms, or quantisation, and no receiver's noise.
const LEAST_FLOOR: f32 = 1e-7;
/// A line fills so many bins to either side under a Hann window, and stands out of noise when its
/// bin holds this much of the floor: fifteen deviations of averaged noise.
const LINE_BINS: usize = 2;
const LEAST_LINE: f32 = 3.0;
/// Lines this far around are looked between, Hz: a bin of time to either side of its middle.
const BETWEEN_HZ: f64 = 47.0;
/// Between lines is this quantile of the bins there, and of noise it has that share: the averages
/// of two seconds scatter by 15 %.
const BETWEEN_QUANTILE: f32 = 0.25;
const BETWEEN_OF_NOISE: f32 = 0.85;
/// Share of what time tells that counts: it scatters by a quarter from bin to bin, and where
/// the noise is even the quantile over frequency is better.
const BY_TIME: f32 = 0.9;
/// A bin whose power varies by less than this, as variance over squared mean, holds a tone that
/// is not keyed: a steady one 13 dB above noise has 0.1, noise 1, a keyed one 0.3 and more.
const STEADY: f32 = 0.12;
/// Frames after which that can be told: a second.
const STEADY_FRAMES: f32 = 31.0;
/// Half the width over which a hump is summed, Hz.
pub const HUMP_HZ: f64 = 27.0;
/// A hump stands out when it holds this much of the floor: five standard deviations of
/// averaged noise.
const LEAST_RATIO: f32 = 1.35;
/// The same for what varies beside a carrier: that of noise scatters more.
const LEAST_DEVIATION: f32 = 1.7;
/// What noise makes of a steady tone, as variance over its power and that of the noise: 2, and twice
/// that so that its scatter counts for nothing.
const STEADY_VARIANCE: f32 = 4.0;
/// A carrier hides what lies so near to it, Hz: its shoulder under the window, and the hump's width.
const HIDDEN_HZ: f64 = 70.0;
/// No more tones than this are proposed: both of sixteen signals.
const MOST_TONES: usize = 32;

/// A tone that stands out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Its frequency, Hz.
    pub hz: f64,
    /// Mean power over the hump, over the floor.
    pub ratio: f32,
    /// Mean power over the hump above the floor, unscaled.
    pub power: f32,
    /// Whether it is surely not keyed.
    pub is_steady: bool,
}

/// Power per bin, averaged over some seconds.
pub struct Spectrum {
    // configured
    plan: BandPlan,
    // derived
    keep: f32,
    first: usize,
    last: usize,
    // state
    sums: Vec<f32>,
    squares: Vec<f32>,
    /// Power of the strongest bin of all.
    strongest: f32,
    weight: f32,
}

impl Spectrum {
    /// An empty average of this time constant, s.
    pub fn new(plan: BandPlan, average_s: f64) -> Self {
        let bins = plan.frame / 2 + 1;
        let bin = |hz: f64| (hz / plan.bin_hz()).round() as usize;
        Self {
            plan,
            keep: (-plan.hop_s() / average_s).exp() as f32,
            first: bin(LOWEST_HZ).max(1),
            last: bin(HIGHEST_SHARE * plan.rate_hz / 2.0).min(bins - 2),
            sums: vec![0.0; bins],
            squares: vec![0.0; bins],
            strongest: 0.0,
            weight: 0.0,
        }
    }

    /// Takes one frame's bins in.
    pub fn add(&mut self, bins: &[Complex32]) {
        for k in self.first..=self.last {
            let power = Band::hann_power(bins, k);
            self.sums[k] = self.sums[k] * self.keep + power;
            self.squares[k] = self.squares[k] * self.keep + power * power;
        }
        let strongest = bins.iter().fold(0.0, |a: f32, b| a.max(b.norm_sqr()));
        self.strongest = self.strongest * self.keep + strongest;
        self.weight = self.weight * self.keep + 1.0;
    }

    /// Whether enough was averaged for a judgement: half a second.
    pub fn is_settled(&self) -> bool {
        f64::from(self.weight) * self.plan.hop_s() > 0.4
    }

    /// Noise floor, Hann power per bin, one value per bin: a quantile over frequency, or what
    /// time tells of the passband, whichever is more.
    pub fn floor(&self, passband: &Passband) -> Vec<f32> {
        let mut floor = self.floor_over_frequency();
        for (k, floor) in floor.iter_mut().enumerate() {
            let noise = self.unit() * passband.at(k as f64 * self.plan.bin_hz());
            *floor = floor.max(BY_TIME * noise);
        }
        floor
    }

    /// White noise of variance 1 under a Hann window: 3/2 for each sample.
    fn unit(&self) -> f32 {
        1.5 * self.plan.frame as f32
    }

    /// The noise that lies between lines around `hz`, at most: the variance of the white noise that
    /// has as much there. Infinite where nothing is searched.
    pub fn between(&self, hz: f64) -> f32 {
        let bin = |hz: f64| (hz / self.plan.bin_hz()).round().max(0.0) as usize;
        let (from, to) = (
            bin(hz - BETWEEN_HZ).max(self.first),
            bin(hz + BETWEEN_HZ).min(self.last),
        );
        if from > to {
            return f32::INFINITY;
        }
        let mut sorted = self.sums[from..=to].to_vec();
        let place = (sorted.len() as f32 * BETWEEN_QUANTILE) as usize;
        let (_, value, _) = sorted.select_nth_unstable_by(place, f32::total_cmp);
        *value / BETWEEN_OF_NOISE / self.weight.max(1e-9) / self.unit()
    }

    fn floor_over_frequency(&self) -> Vec<f32> {
        let half = (FLOOR_HZ / self.plan.bin_hz()).ceil() as usize;
        let stride = (half / 2).max(1);
        let mut knots: Vec<(usize, f32)> = Vec::new();
        let mut sorted = Vec::with_capacity(2 * half + 1);
        for centre in (self.first..=self.last).step_by(stride) {
            sorted.clear();
            let (from, to) = (
                centre.saturating_sub(half).max(self.first),
                (centre + half).min(self.last),
            );
            sorted.extend(
                self.sums[from..=to]
                    .iter()
                    .map(|s| s / self.weight.max(1e-9)),
            );
            let place = (sorted.len() as f64 * FLOOR_QUANTILE) as usize;
            let (_, value, _) = sorted.select_nth_unstable_by(place, f32::total_cmp);
            knots.push((centre, *value));
        }
        let least = self.strongest / self.weight.max(1e-9) * LEAST_FLOOR;
        knots.iter_mut().for_each(|knot| knot.1 = knot.1.max(least));
        self.interpolate(&knots)
    }

    fn interpolate(&self, knots: &[(usize, f32)]) -> Vec<f32> {
        let value = |k: usize| {
            let after = knots.partition_point(|knot| knot.0 <= k);
            match (knots.get(after.wrapping_sub(1)), knots.get(after)) {
                (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (k - a.0) as f32 / (b.0 - a.0) as f32,
                (Some(a), None) => a.1,
                (None, Some(b)) => b.1,
                (None, None) => 0.0,
            }
        };
        (0..self.sums.len()).map(value).collect()
    }

    /// The tones that stand out of `floor`, strongest first.
    pub fn peaks(&self, floor: &[f32]) -> Vec<Peak> {
        let mean = self.mean();
        let mut peaks = self.humps(&mean, floor, LEAST_RATIO);
        let carriers: Vec<f64> = peaks
            .iter()
            .filter(|peak| peak.is_steady)
            .map(|p| p.hz)
            .collect();
        if carriers.is_empty() {
            return strongest_first(peaks);
        }
        // A carrier's shoulder hides a keyed tone beside it, but for what does not stand still.
        let is_near = |hz: f64, peak: &Peak| (peak.hz - hz).abs() < HUMP_HZ;
        for keyed in self.humps(&self.deviations(floor), floor, LEAST_DEVIATION) {
            let hidden = carriers.iter().any(|hz| (hz - keyed.hz).abs() < HIDDEN_HZ);
            if hidden
                && !peaks
                    .iter()
                    .any(|peak| !peak.is_steady && is_near(keyed.hz, peak))
            {
                peaks.push(Peak {
                    is_steady: false,
                    ..keyed
                });
            }
        }
        strongest_first(peaks)
    }

    /// Mean power of each bin.
    fn mean(&self) -> Vec<f32> {
        let weight = self.weight.max(1e-9);
        self.sums.iter().map(|sum| sum / weight).collect()
    }

    /// By how much the power of each bin varies, standard deviation, but for what noise makes of a
    /// steady tone: of noise as much as its mean, of a steady tone nothing.
    fn deviations(&self, floor: &[f32]) -> Vec<f32> {
        let of = |((sum, square), noise): ((&f32, &f32), &f32)| {
            let mean = sum / self.weight.max(1e-9);
            let steady = STEADY_VARIANCE * (mean - noise).max(0.0) * noise;
            let variance = square / self.weight.max(1e-9) - mean * mean - steady;
            variance.max(0.0).sqrt()
        };
        let sums = self.sums.iter().zip(&self.squares);
        sums.zip(floor).map(of).collect()
    }

    /// Where these values of every bin stand out of `floor` by a ratio.
    fn humps(&self, values: &[f32], floor: &[f32], least: f32) -> Vec<Peak> {
        let half = (HUMP_HZ / self.plan.bin_hz()).round().max(1.0) as usize;
        let ratio = |k: usize| {
            let power: f32 = values[k - half..=k + half].iter().sum();
            let noise: f32 = floor[k - half..=k + half].iter().sum();
            power / noise.max(f32::MIN_POSITIVE)
        };
        let (first, last) = (self.first + half, self.last.saturating_sub(half));
        let ratios: Vec<f32> = (first..=last).map(ratio).collect();
        (0..ratios.len())
            .filter(|&i| ratios[i] > least && is_highest(&ratios, i, half))
            .map(|i| Peak {
                hz: self.centre(values, first + i, half, floor),
                ratio: ratios[i],
                power: (ratios[i] - 1.0) * floor[first + i],
                is_steady: self.is_steady(first + i, half),
            })
            .collect()
    }

    /// Frequencies of all tones that are surely not keyed, Hz: two of them may stand in one hump.
    pub fn carriers(&self, floor: &[f32]) -> Vec<f64> {
        let is_line = |k: &usize| {
            let around = &self.sums[k - LINE_BINS..=k + LINE_BINS];
            let stands_out = self.sums[*k] > LEAST_LINE * floor[*k] * self.weight;
            stands_out && around.iter().all(|s| *s <= self.sums[*k]) && self.is_steady(*k, 0)
        };
        let mean = self.mean();
        (self.first + LINE_BINS..=self.last - LINE_BINS)
            .filter(is_line)
            .map(|k| self.centre(&mean, k, LINE_BINS, floor))
            .collect()
    }

    /// Whether the tone at `hz` is surely not keyed.
    pub fn is_steady_at(&self, hz: f64) -> bool {
        let half = (HUMP_HZ / self.plan.bin_hz()).round().max(1.0) as usize;
        let bin = (hz / self.plan.bin_hz()).round() as usize;
        let k = bin.clamp(self.first + half, self.last.saturating_sub(half));
        self.is_steady(k, half)
    }

    /// Whether the strongest bin around bin `k` holds its power steadily.
    fn is_steady(&self, k: usize, half: usize) -> bool {
        let of = |j: &usize| self.sums[*j];
        let around = k - half..=k + half;
        let Some(j) = around.max_by(|a, b| of(a).total_cmp(&of(b))) else {
            return false;
        };
        let mean = self.sums[j] / self.weight;
        let variance = self.squares[j] / self.weight - mean * mean;
        self.weight > STEADY_FRAMES && variance < STEADY * mean * mean
    }

    /// Mean power over the hump of a tone at `hz` above `floor`, as of a [`Peak`].
    pub fn power_at(&self, floor: &[f32], hz: f64) -> f32 {
        let half = (HUMP_HZ / self.plan.bin_hz()).round().max(1.0) as usize;
        let bin = (hz / self.plan.bin_hz()).round() as usize;
        let k = bin.clamp(self.first + half, self.last.saturating_sub(half));
        let power: f32 = self.sums[k - half..=k + half].iter().sum();
        let noise: f32 = floor[k - half..=k + half].iter().sum();
        let above = power / self.weight.max(1e-9) - noise;
        above.max(0.0) / (2 * half + 1) as f32
    }

    /// Whether there is as much of a tone at `hz` as a [`Peak`] has at least.
    pub fn stands_out(&self, floor: &[f32], hz: f64) -> bool {
        let (power, noise) = (self.power_at(floor, hz), self.floor_at(floor, hz));
        power > (LEAST_RATIO - 1.0) * noise
    }

    /// Centre of gravity of what stands out around bin `k`, Hz.
    fn centre(&self, values: &[f32], k: usize, half: usize, floor: &[f32]) -> f64 {
        let (mut sum, mut weight) = (0.0f64, 0.0f64);
        let around = values.iter().zip(floor).enumerate();
        for (j, (power, floor)) in around.skip(k - half).take(2 * half + 1) {
            let above = f64::from((power - floor).max(0.0));
            sum += above * j as f64;
            weight += above;
        }
        let centre = if weight > 0.0 { sum / weight } else { k as f64 };
        centre * self.plan.bin_hz()
    }

    /// Noise at `hz`, Hann power in a bin.
    pub fn floor_at(&self, floor: &[f32], hz: f64) -> f32 {
        floor[((hz / self.plan.bin_hz()).round() as usize).min(floor.len() - 1)]
    }

    /// Noise power of one element of a narrow stream, from the floor at `hz`: the floor is
    /// Hann power (3/2 of the frame's length, unscaled), the stream the analytic signal.
    pub fn element_noise(&self, floor: &[f32], hz: f64, rate_baud: f64) -> f32 {
        let density = f64::from(self.floor_at(floor, hz))
            / (1.5 * self.plan.frame as f64 * self.plan.rate_hz);
        (density * rate_baud) as f32
    }
}

/// Keyed tones first: there may be any number of carriers.
fn strongest_first(mut peaks: Vec<Peak>) -> Vec<Peak> {
    let order = |p: &Peak| (p.is_steady, -p.ratio);
    peaks.sort_by(|a, b| order(a).partial_cmp(&order(b)).expect("ratios are numbers"));
    peaks.truncate(MOST_TONES);
    peaks
}

fn is_highest(ratios: &[f32], i: usize, half: usize) -> bool {
    let around = &ratios[i.saturating_sub(half)..(i + half + 1).min(ratios.len())];
    around.iter().all(|r| *r <= ratios[i])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise by a small congruential generator: twelve uniform values summed.
    fn noise(count: usize, mut seed: u64) -> Vec<f32> {
        let mut uniform = move || {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (seed >> 40) as f32 / (1u64 << 24) as f32
        };
        (0..count)
            .map(|_| (0..12).map(|_| uniform()).sum::<f32>() - 6.0)
            .collect()
    }

    fn spectrum_of(sound: &[f32]) -> Spectrum {
        let plan = BandPlan::new(8000.0);
        let (mut band, mut spectrum) = (Band::new(plan, 1), Spectrum::new(plan, AVERAGE_S));
        let mut rest = sound;
        while !rest.is_empty() {
            let (taken, complete) = band.push(rest);
            rest = &rest[taken..];
            if complete {
                spectrum.add(band.frame(band.next_frame() - 1).expect("just made"));
            }
        }
        spectrum
    }

    #[test]
    fn noise_has_no_tones_and_the_right_floor() {
        for seed in 1..6 {
            let spectrum = spectrum_of(&noise(80_000, seed));
            let floor = spectrum.floor(&Passband::default());
            assert_eq!(spectrum.peaks(&floor), vec![], "seed {seed}");
            // Unit variance, one-sided density 2/8000; the analytic half has 1/8000 per Hz.
            let expected = 50.0 / 8000.0;
            let got = spectrum.element_noise(&floor, 1500.0, 50.0);
            assert!(
                (got / expected - 1.0).abs() < 0.15,
                "seed {seed}: {got} for {expected}"
            );
        }
    }

    #[test]
    fn a_tone_is_found_where_it_is() {
        let mut sound = noise(60_000, 3);
        for (n, y) in sound.iter_mut().enumerate() {
            *y += 0.5 * (std::f32::consts::TAU * 1234.0 * n as f32 / 8000.0).cos();
        }
        let spectrum = spectrum_of(&sound);
        let peaks = spectrum.peaks(&spectrum.floor(&Passband::default()));
        assert_eq!(peaks.len(), 1, "{peaks:?}");
        assert!((peaks[0].hz - 1234.0).abs() < 2.0, "{peaks:?}");
    }

    /// Keyed at random at 45.45 baud, at 1000 and 1170 Hz, with a carrier (Hz, level), in noise.
    fn keyed_beside(seed: u64, level: f32, carrier: (f32, f32)) -> Vec<f32> {
        let (mut sound, mut state) = (noise(60_000, seed), seed);
        for (n, y) in sound.iter_mut().enumerate() {
            if n % 176 == 0 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
            }
            let keyed = if state >> 63 == 0 { 1000.0 } else { 1170.0 };
            for (hz, level) in [(keyed, level), carrier] {
                *y += level * (std::f32::consts::TAU * hz * n as f32 / 8000.0).cos();
            }
        }
        sound
    }

    /// The carrier is stronger, and 45 Hz beside one of the tones.
    #[test]
    fn a_keyed_tone_beside_a_carrier_is_found() {
        for seed in 1..4 {
            let spectrum = spectrum_of(&keyed_beside(seed, 0.5, (1215.0, 0.8)));
            let floor = spectrum.floor(&Passband::default());
            let peaks = spectrum.peaks(&floor);
            for tone in [1000.0, 1170.0] {
                let is_it = |p: &&Peak| !p.is_steady && (p.hz - tone).abs() < 15.0;
                assert!(peaks.iter().any(|p| is_it(&p)), "{tone}: {peaks:?}");
            }
            let carriers = spectrum.carriers(&floor);
            assert!(
                carriers.len() == 1 && (carriers[0] - 1215.0).abs() < 2.0,
                "{carriers:?}"
            );
        }
    }

    #[test]
    fn steady_tones_are_told_from_keyed_ones() {
        for seed in 1..4 {
            // Both 13 dB above noise in 22 ms.
            let spectrum = spectrum_of(&keyed_beside(seed, 0.47, (2000.0, 0.47)));
            let peaks = spectrum.peaks(&spectrum.floor(&Passband::default()));
            let steady: Vec<bool> = peaks.iter().map(|peak| peak.is_steady).collect();
            assert_eq!(steady, [false, false, true], "{peaks:?}");
            assert!((peaks[2].hz - 2000.0).abs() < 3.0, "{peaks:?}");
        }
    }
}
