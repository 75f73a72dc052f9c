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
        // White noise of variance 1 under a Hann window, 3/2 for each sample.
        let unit = 1.5 * self.plan.frame as f32;
        for (k, floor) in floor.iter_mut().enumerate() {
            let noise = unit * passband.at(k as f64 * self.plan.bin_hz());
            *floor = floor.max(BY_TIME * noise);
        }
        floor
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
        let half = (HUMP_HZ / self.plan.bin_hz()).round().max(1.0) as usize;
        let ratio = |k: usize| {
            let power: f32 = self.sums[k - half..=k + half].iter().sum();
            let noise: f32 = floor[k - half..=k + half].iter().sum();
            power / self.weight.max(1e-9) / noise.max(f32::MIN_POSITIVE)
        };
        let (first, last) = (self.first + half, self.last.saturating_sub(half));
        let ratios: Vec<f32> = (first..=last).map(ratio).collect();
        let mut peaks: Vec<Peak> = (0..ratios.len())
            .filter(|&i| ratios[i] > LEAST_RATIO && is_highest(&ratios, i, half))
            .map(|i| Peak {
                hz: self.centre(first + i, half, floor),
                ratio: ratios[i],
                power: (ratios[i] - 1.0) * floor[first + i],
                is_steady: self.is_steady(first + i, half),
            })
            .collect();
        // Keyed ones first: there may be any number of carriers.
        let order = |p: &Peak| (p.is_steady, -p.ratio);
        peaks.sort_by(|a, b| order(a).partial_cmp(&order(b)).expect("ratios are numbers"));
        peaks.truncate(MOST_TONES);
        peaks
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

    /// Centre of gravity of what stands out around bin `k`, Hz.
    fn centre(&self, k: usize, half: usize, floor: &[f32]) -> f64 {
        let (mut sum, mut weight) = (0.0f64, 0.0f64);
        let around = self.sums.iter().zip(floor).enumerate();
        for (j, (power, floor)) in around.skip(k - half).take(2 * half + 1) {
            let above = f64::from((power / self.weight - floor).max(0.0));
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

    #[test]
    fn steady_tones_are_told_from_keyed_ones() {
        for seed in 1..4 {
            let mut sound = noise(60_000, seed);
            // 45.45 baud at random beside a carrier; both 13 dB above noise in 22 ms.
            let mut state = seed;
            for (n, y) in sound.iter_mut().enumerate() {
                if n % 176 == 0 {
                    state = state
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1);
                }
                let keyed = if state >> 63 == 0 { 1000.0 } else { 1170.0 };
                for hz in [keyed, 2000.0] {
                    *y += 0.47 * (std::f32::consts::TAU * hz * n as f32 / 8000.0).cos();
                }
            }
            let spectrum = spectrum_of(&sound);
            let peaks = spectrum.peaks(&spectrum.floor(&Passband::default()));
            let steady: Vec<bool> = peaks.iter().map(|peak| peak.is_steady).collect();
            assert_eq!(steady, [false, false, true], "{peaks:?}");
            assert!((peaks[2].hz - 2000.0).abs() < 3.0, "{peaks:?}");
        }
    }
}
