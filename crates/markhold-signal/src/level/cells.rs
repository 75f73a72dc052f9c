//! The cells that are not yet decided, and which of them are crashes.

use super::CELLS_PER_STEP;
use super::frames::Heard;
use std::ops::Range;

/// Cells remembered: those from the newest back to 16 before the one decided.
const RING: usize = 64;
/// From the end of a frame back to its middle.
const MIDDLE: i64 = 8;
/// From the end of the newest frame back to the middle of the one whose crash is told.
const CRASH_MIDDLE: i64 = MIDDLE + 12;
/// From the end of the newest frame to the end of what it completes.
const COMPLETE: i64 = 12;
/// Power over the level that begins a crash, and that keeps one going.
const BEGIN: f32 = 3.0;
const KEEP: f32 = 2.0;
/// Standard deviations of the logarithm of a median that make a crash of it; one is 1.75
/// over the root of the number of bins under a Hann window.
const SURE_SIGMA: f32 = 4.0;
const MEDIAN_SIGMA: f32 = 1.75;
/// Least power of a crash over the level, told by its spectrum.
const LEAST_CRASH: f32 = 2.5;
/// A click has the power `4 + 30 / freedom` over the level: noise gets there once in 1e9
/// cells, whatever the degrees of freedom (chi squared).
const CLICK: [f32; 2] = [4.0, 30.0];
/// What a reversal of phase may leave of a tone in the residual of a cell, over the power of
/// its bin.
const REVERSAL: f32 = 0.1;
/// Whitening smears this share of a crash over the cells of a frame around (measured).
const SMEAR: f32 = 0.02;
/// Cells before the first sure one that may belong to the crash.
const GROW: i64 = 8;

/// One cell.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cell {
    /// Power of the noise over the floor, as measured.
    measured: f32,
    /// The same, over as many cells as it takes to tell anything.
    pub power: f32,
    /// Strongest line in the spectra around, over the noise of a bin.
    pub line: f32,
    /// Power of what may be a crash in the spectra around, over the floor.
    crash_power: f32,
    /// Whether the spectra around fit the floor.
    pub sure: bool,
    /// Whether it is part of a crash.
    pub crash: bool,
}

/// The latest cells by their index.
pub(super) struct Cells {
    ring: [Cell; RING],
    /// Where the newest frame ends.
    end: i64,
}

impl Cells {
    pub(super) fn new() -> Self {
        Self {
            ring: [Cell::default(); RING],
            end: 0,
        }
    }

    pub(super) fn at(&self, cell: i64) -> &Cell {
        &self.ring[cell.rem_euclid(RING as i64) as usize]
    }

    pub(super) fn at_mut(&mut self, cell: i64) -> &mut Cell {
        &mut self.ring[cell.rem_euclid(RING as i64) as usize]
    }

    /// Where the newest frame ends.
    pub(super) fn end(&self) -> i64 {
        self.end
    }

    /// Takes what a step brought.
    pub(super) fn take(&mut self, heard: &Heard) {
        let step = CELLS_PER_STEP as i64;
        self.end += step;
        let complete = self.end - COMPLETE - step;
        for (k, power) in (complete..).zip(heard.powers) {
            let cell = self.at_mut(k);
            (cell.measured, cell.power) = (power, power);
            (cell.crash_power, cell.crash) = (0.0, false);
        }
        // A cell lies between the middles of two frames; it has met the first before.
        let reading = heard.reading;
        for k in 0..step {
            let cell = self.at_mut(self.end - MIDDLE - step + k);
            cell.sure &= reading.sure;
            cell.line = cell.line.max(reading.line);
            let cell = self.at_mut(self.end - MIDDLE + k);
            cell.sure = reading.sure;
            cell.line = reading.line;
        }
        for k in -step..step {
            let cell = self.at_mut(self.end - CRASH_MIDDLE + k);
            cell.crash_power = cell.crash_power.max(heard.crash);
        }
    }

    /// Divides all powers, because the floor has been multiplied.
    pub(super) fn rescale(&mut self, by: f32) {
        for cell in &mut self.ring {
            cell.measured /= by;
            cell.power /= by;
        }
    }

    /// The median of all powers.
    pub(super) fn median(&self) -> f32 {
        let mut powers = self.ring.map(|cell| cell.power);
        *powers.select_nth_unstable_by(RING / 2, f32::total_cmp).1
    }

    /// Marks crashes in the four cells that have met both of their frames. `level` is that
    /// of the noise around, `bins` the number that is looked at.
    pub(super) fn find_crashes(&mut self, level: f32, bins: usize) {
        let freedom = bins as f32 / 8.0;
        self.smooth(freedom);
        let sigma = MEDIAN_SIGMA / (bins as f32).sqrt();
        let broad = level * (SURE_SIGMA * sigma).exp().max(LEAST_CRASH);
        let click = level * (CLICK[0] + CLICK[1] / freedom);
        let from = self.end - CRASH_MIDDLE - CELLS_PER_STEP as i64;
        for k in from..from + CELLS_PER_STEP as i64 {
            let cell = *self.at(k);
            let going = self.at(k - 1).crash;
            let least = level * if going { KEEP } else { BEGIN };
            let sharp = cell.sure && cell.power > click + REVERSAL * cell.line;
            let may = cell.power > least && (going || sharp || cell.crash_power > broad);
            if may && self.stands_out(k) {
                self.at_mut(k).crash = true;
                if !going {
                    self.grow_back(k, level);
                }
            }
        }
    }

    /// Averages over 1, 3 or 5 cells, so that there are 4 degrees of freedom at least.
    fn smooth(&mut self, freedom: f32) {
        let side = match freedom {
            4.0.. => return,
            1.3.. => 1,
            _ => 2,
        };
        // Those that follow are looked at too, if not yet decided.
        let from = self.end - CRASH_MIDDLE - CELLS_PER_STEP as i64;
        for k in from..from + 2 * CELLS_PER_STEP as i64 {
            let sum: f32 = (k - side..=k + side).map(|i| self.at(i).measured).sum();
            self.at_mut(k).power = sum / (2 * side + 1) as f32;
        }
    }

    /// Whether a cell is more than the smear of stronger ones around.
    fn stands_out(&self, k: i64) -> bool {
        let around = (k - 10..k + 9).map(|i| self.at(i).power);
        self.at(k).power > SMEAR * around.fold(0.0, f32::max)
    }

    /// A crash begins before the first frame that is full of it.
    fn grow_back(&mut self, from: i64, level: f32) {
        for k in (from - GROW..from).rev() {
            let strong = self.at(k).power > BEGIN * level && self.stands_out(k);
            if !strong && !self.at(k - 1).crash {
                break;
            }
            self.at_mut(k).crash = true;
        }
    }

    /// Sum of the powers of sure cells outside crashes, none counted higher than `most`, and
    /// how many there are.
    pub(super) fn quiet(&self, range: Range<i64>, most: f32) -> (f32, f32) {
        let (mut sum, mut count) = (0.0, 0.0);
        for k in range {
            let cell = self.at(k);
            if cell.sure && !cell.crash {
                sum += cell.power.min(most);
                count += 1.0;
            }
        }
        (sum, count)
    }
}
