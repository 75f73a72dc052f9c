//! The sound as all later stages see it: level, as spectra, with a record of how much of it
//! is left.

use std::collections::VecDeque;

use markhold_signal::level::{CellLevel, Leveller};
use markhold_signal::{Band, BandPlan};

/// Cells in one hop of the band.
const CELLS_PER_HOP: usize = 32;

/// Levels sound, keeps its latest spectra and what was blanked in it.
pub struct Levelled {
    // derived
    cell_s: f64,
    kept_cells: usize,
    // state
    leveller: Leveller,
    band: Band,
    level: Vec<f32>,
    used: usize,
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
            leveller: Leveller::new(plan),
            band: Band::new(plan, kept),
            level: Vec::new(),
            used: 0,
            cells: Vec::new(),
            sums: VecDeque::from([(0.0, 0.0)]),
            first_cell: 0,
        }
    }

    /// The spectra.
    pub fn band(&self) -> &Band {
        &self.band
    }

    /// Takes samples; [`Levelled::next_frame`] then gives what they complete.
    pub fn take(&mut self, samples: &[f32]) {
        self.level.drain(..self.used);
        self.used = 0;
        self.leveller
            .process(samples, &mut self.level, &mut self.cells);
        self.note_cells();
    }

    /// The sound has ended: what the leveller still holds becomes available.
    pub fn finish(&mut self) {
        self.leveller.finish(&mut self.level, &mut self.cells);
        self.note_cells();
        // Silence pushes the last samples through the frames.
        let silence = self.band.plan().frame;
        self.level.resize(self.level.len() + silence, 0.0);
    }

    /// Completes at most one frame of the band; `false` if more samples are needed.
    pub fn next_frame(&mut self) -> bool {
        while self.used < self.level.len() {
            let (taken, complete) = self.band.push(&self.level[self.used..]);
            self.used += taken;
            if complete {
                return true;
            }
        }
        false
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
