//! The sound as all later stages see it: level, as spectra, with a record of how much of it
//! is left.

use std::collections::VecDeque;

use markhold_signal::level::{BinPower, CellLevel, Leveller};
use markhold_signal::{Band, BandPlan};

use crate::dither::Dither;

/// Cells in one hop of the band.
const CELLS_PER_HOP: usize = 32;

/// Levels sound, keeps its latest spectra and what was blanked in it.
///
/// Sound goes in step by step of the leveller, and a frame of the band ends with a step: what
/// is told after a frame is a function of that frame alone, whatever blocks sound comes in.
pub struct Levelled {
    // derived
    cell_s: f64,
    kept_cells: usize,
    // state
    dither: Dither,
    dithered: Vec<f32>,
    leveller: Leveller,
    /// What its bins held when the sound ended.
    ended_bins: Option<Vec<BinPower>>,
    band: Band,
    level: Vec<f32>,
    cells: Vec<CellLevel>,
    /// Running sums of the share of sound left, s, at the end of each cell, and of the gain
    /// that was undone, dB s.
    sums: VecDeque<(f64, f64)>,
    first_cell: u64,
}

impl Levelled {
    /// Keeps the latest `kept` frames.
    pub fn new(plan: BandPlan, kept: usize) -> Self {
        Self {
            cell_s: plan.hop_s() / CELLS_PER_HOP as f64,
            kept_cells: (kept + 8) * CELLS_PER_HOP,
            dither: Dither::new(plan.rate_hz),
            dithered: Vec::new(),
            leveller: Leveller::new(plan),
            ended_bins: None,
            band: Band::new(plan, kept),
            level: Vec::new(),
            cells: Vec::new(),
            sums: VecDeque::from([(0.0, 0.0)]),
            first_cell: 0,
        }
    }

    /// Where the sound that is still remembered begins, s.
    pub fn oldest_s(&self) -> f64 {
        let (plan, oldest) = (self.band.plan(), self.band.oldest_frame());
        plan.output_start(oldest).max(0) as f64 / plan.rate_hz
    }

    /// The spectra.
    pub fn band(&self) -> &Band {
        &self.band
    }

    /// What each bin of short spectra held when the latest frame was complete, and the distance
    /// of these bins, Hz.
    pub fn bins(&self) -> Option<(Vec<BinPower>, f64)> {
        let bins = self.leveller.bins().or_else(|| self.ended_bins.clone());
        Some((bins?, self.leveller.bin_hz()))
    }

    /// Takes samples until one frame of the band is complete or none are left; returns how many
    /// were taken and whether a frame was completed.
    pub fn push(&mut self, samples: &[f32]) -> (usize, bool) {
        let mut taken = 0;
        while taken < samples.len() {
            let step = self.leveller.missing().min(samples.len() - taken);
            let dither = &mut self.dither;
            self.dithered.clear();
            let part = &samples[taken..taken + step];
            self.dithered.extend(part.iter().map(|x| dither.add(*x)));
            self.leveller
                .process(&self.dithered, &mut self.level, &mut self.cells);
            taken += step;
            self.note_cells();
            if self.next_frame() {
                return (taken, true);
            }
        }
        (taken, false)
    }

    /// Takes all samples, whatever frames they complete.
    pub fn push_all(&mut self, mut samples: &[f32]) {
        while !samples.is_empty() {
            samples = &samples[self.push(samples).0..];
        }
    }

    /// The sound has ended: completes all frames that are left of it.
    pub fn finish_all(&mut self) {
        self.finish();
        while self.next_frame() {}
    }

    /// The sound has ended: [`Levelled::next_frame`] gives what is left of it.
    pub fn finish(&mut self) {
        self.ended_bins = self.leveller.bins();
        self.leveller.finish(&mut self.level, &mut self.cells);
        self.note_cells();
        // Silence pushes the last samples through the frames.
        let silence = self.band.plan().frame;
        self.level.resize(self.level.len() + silence, 0.0);
    }

    /// Completes at most one frame of what is level; `false` if there is not enough for one.
    pub fn next_frame(&mut self) -> bool {
        let (taken, complete) = self.band.push(&self.level);
        self.level.drain(..taken);
        complete
    }

    fn note_cells(&mut self) {
        for cell in self.cells.drain(..) {
            let last = self.sums.back().copied().unwrap_or_default();
            let gain_db = 20.0 * f64::from(cell.gain.max(1e-6)).log10();
            self.sums.push_back((
                last.0 + f64::from(cell.clear) * self.cell_s,
                last.1 + gain_db * self.cell_s,
            ));
        }
        while self.sums.len() > self.kept_cells {
            self.sums.pop_front();
            self.first_cell += 1;
        }
    }

    /// Seconds of clear sound from the begin of the recording up to instant `t`, s.
    pub fn clear_until(&self, t: f64) -> f64 {
        self.until(t, |sums| sums.0)
    }

    /// Mean gain undone between two instants, dB.
    pub fn gain_db(&self, from: f64, to: f64) -> f64 {
        (self.until(to, |s| s.1) - self.until(from, |s| s.1)) / (to - from).max(self.cell_s)
    }

    fn until(&self, t: f64, which: impl Fn(&(f64, f64)) -> f64) -> f64 {
        let place = (t / self.cell_s - self.first_cell as f64).max(0.0);
        let i = place as usize;
        match (self.sums.get(i), self.sums.get(i + 1)) {
            (Some(a), Some(b)) => which(a) + (which(b) - which(a)) * (place - i as f64),
            _ => self.sums.back().map_or(0.0, which),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, levelled, sound};

    /// Noise with a crash and a tone that is keyed.
    fn crashed() -> Vec<f32> {
        let mut sound = sound(3.0, 0.05, |t| {
            let on = (t * 4.0) as u32 % 2;
            0.1 * f64::from(on) * (std::f64::consts::TAU * 900.0 * t).cos()
        });
        sound[12_000..12_400].iter_mut().for_each(|y| *y *= 40.0);
        sound
    }

    /// All that comes of a sound taken in blocks: frames with what the bins held then, and
    /// clear seconds along the way.
    fn taken(sound: &[f32], block: usize, kept: usize) -> (Vec<Vec<u32>>, Vec<f64>) {
        let mut levelled = Levelled::new(BandPlan::new(RATE_HZ), kept);
        let mut frames = Vec::new();
        for mut samples in sound.chunks(block) {
            while !samples.is_empty() {
                let (taken, complete) = levelled.push(samples);
                samples = &samples[taken..];
                complete.then(|| frames.push(bits(&levelled)));
            }
        }
        levelled.finish();
        while levelled.next_frame() {
            frames.push(bits(&levelled));
        }
        let clear = (0..400).map(|k| levelled.clear_until(0.01 * f64::from(k)));
        (frames, clear.collect())
    }

    /// All that is told after a frame.
    fn bits(levelled: &Levelled) -> Vec<u32> {
        let band = levelled.band();
        let frame = band.frame(band.next_frame() - 1).expect("the latest");
        let bits = frame.iter().flat_map(|y| [y.re.to_bits(), y.im.to_bits()]);
        let bins = levelled.bins().map_or(Vec::new(), |bins| bins.0);
        let quartiles = bins
            .iter()
            .flat_map(|b| [b.low, b.middle, b.high].map(f32::to_bits));
        let until = levelled.clear_until(1e9) as f32;
        bits.chain(quartiles).chain([until.to_bits()]).collect()
    }

    #[test]
    fn any_block_size_gives_the_same() {
        let sound = crashed();
        let whole = taken(&sound, sound.len(), 100);
        assert!(whole.0.len() > 90, "{} frames", whole.0.len());
        for block in [1, 7, 256, 997, 8000] {
            assert!(taken(&sound, block, 100) == whole, "blocks of {block}");
        }
    }

    #[test]
    fn clear_sound_grows_with_time_but_not_in_a_crash() {
        let levelled = levelled(&crashed());
        let clear = |t: f64| levelled.clear_until(t);
        assert_eq!(clear(0.0), 0.0);
        assert!((clear(1.4) - 1.4).abs() < 1e-3, "{}", clear(1.4));
        let covered = 0.6 - (clear(2.0) - clear(1.4));
        assert!((0.04..0.08).contains(&covered), "{covered} s for 0.05 s");
        // Linear between the ends of cells, constant past the end of the sound.
        let (a, b) = (clear(1.0), clear(1.0001));
        assert!((b - a - 1e-4).abs() < 1e-9, "{a} {b}");
        assert_eq!(clear(9.0), clear(90.0));
    }

    /// What was forgotten does not change what is kept.
    #[test]
    fn memory_is_bounded() {
        let sound = crashed();
        let (all, few) = (taken(&sound, 512, 100).1, taken(&sound, 512, 10).1);
        let forgotten = few.iter().take_while(|s| **s == few[0]).count();
        assert!(forgotten > 100, "{forgotten}");
        for k in forgotten + 1..400 {
            assert!((all[k] - few[k]).abs() < 1e-12, "at {} s", 0.01 * k as f64);
        }
    }

    #[test]
    fn steady_noise_has_no_gain_to_undo() {
        let levelled = levelled(&sound(3.0, 0.05, |_| 0.0));
        assert!(levelled.gain_db(1.0, 2.0).abs() < 0.1);
        assert_eq!(levelled.gain_db(2.0, 2.0), 0.0);
    }
}
