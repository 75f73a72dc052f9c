//! The noise floor of each bin: what is there half of the time.

use super::ROW_BINS;
use super::spectra::Spectrum;

/// How far the floor moves with each spectrum, dB: quick at first, so that it is there
/// after two seconds, then slowly enough that a crash hardly moves it.
const STEPS_DB: [f32; 2] = [2.0, 0.3];
/// Spectra after which it moves slowly.
const QUICK: u32 = 40;

/// Noise that a filter lets through is flat: bins agree within this, dB, as well as a floor of some
/// seconds is known.
const FLAT_DB: f32 = 3.0;
/// So many must: of a filter of 250 Hz most do. The skirts of a signal are steep, and its tones narrow.
const AGREE: usize = 14;

/// Tracks the median of each bin.
#[derive(Clone, Debug)]
pub struct Floor {
    // state
    db: Vec<f32>,
    seen: u32,
}

impl Default for Floor {
    fn default() -> Self {
        Floor {
            db: vec![-130.0; ROW_BINS],
            seen: 0,
        }
    }
}

/// Level of a bin, dB.
pub fn db(power: f32) -> f32 {
    10.0 * power.max(1e-13).log10()
}

impl Floor {
    /// Takes a spectrum.
    pub fn process(&mut self, spectrum: &Spectrum) {
        let levels = spectrum.power.iter().map(|p| db(*p));
        if self.seen == 0 {
            self.db = levels.collect();
        } else {
            let step = STEPS_DB[usize::from(self.seen >= QUICK)];
            for (floor, level) in self.db.iter_mut().zip(levels) {
                *floor += (level - *floor).clamp(-step, step);
            }
        }
        self.seen = self.seen.saturating_add(1);
    }

    /// The floor of each bin, dB; `None` before it has settled.
    pub fn db(&self) -> Option<&[f32]> {
        (self.seen > QUICK).then_some(&self.db)
    }
}

/// The middle one of some values; 0 of none.
pub fn median(values: &mut [f32]) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// The level of the noise that the receiver lets through, dB, by the floor of each bin: the highest at which many bins agree. Neither the
/// highest bins nor a share of all say it, since signals with their skirts may be in a third of them.
pub fn plateau_db(floor_db: &[f32]) -> Option<f32> {
    let mut all: Vec<f32> = floor_db.iter().copied().filter(|db| *db > -125.0).collect();
    all.sort_by(|a, b| b.total_cmp(a));
    let agree = |w: &[f32]| w[0] - w[AGREE - 1] < FLAT_DB;
    let first = all.windows(AGREE).position(agree)?;
    let plateau = all[first..]
        .iter()
        .take_while(|db| all[first] - **db < FLAT_DB);
    Some(all[first + plateau.count() / 2])
}
