//! The probe: two tones of a candidate, ready to be weighed as a line of any rate and sense.

use markhold_signal::{Complex32, bessel::LnI0, running::RunningSum};

use super::Candidate;
use crate::elements::{Elements, ToneOnGrid};
use crate::levelled::Levelled;
use crate::pair::gains::{Showing, follow_power};
use crate::pair::tones::{Grid, ToneCutter, ToneStream, clear_on_grid, sums_on_grid};
use crate::pair::track::Track;

/// Element that stands for all rates while levels are measured, s.
pub(super) const PROBE_S: f64 = 0.02;
/// Steps of the level grid in one probe.
const PROBE_STEPS: usize = 4;
/// Grid points to the element in a trial: half of what copying uses.
pub(super) const STEPS: usize = 8;
/// The certainty of strong tones ends at an energy of 30 noise densities in 22 ms: below
/// the bound of the elements themselves, which would favour short ones.
const STRONG_S: f32 = 0.022 / 30.0;
/// Least distance of the tones as measured, Hz: 85 less an error.
const LEAST_SHIFT_HZ: f64 = 75.0;
/// What a stretch with both tones weighs for a pair to be worth a trial, and for one that needs
/// to show that both tones belong to it: a carrier between the tones of a pair reaches into
/// both in so short a time.
const BOTH: [f32; 2] = [1.0, 3.0];

/// Two tones of a candidate, ready for any rate.
pub(super) struct Probe {
    pub(super) tones_hz: [f64; 2],
    sums: [RunningSum; 2],
    /// Clear sound up to each point of the level grid, s.
    clear: Vec<f32>,
    /// Power of each tone on the level grid.
    pub(super) power: [Vec<f32>; 2],
    levels: Grid,
    pub(super) density: [f32; 2],
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    /// Grid points, of [`STEPS`] to the element, that do not count at either end of an element.
    pub(super) trim: usize,
    /// Whether one of the tones may have nothing to do with the other.
    pub(super) is_doubtful: bool,
    /// Whether one of the tones is known to be another pair's.
    pub(super) is_shared: bool,
    pub(super) missing: Option<usize>,
}

impl Probe {
    /// Both tones of a candidate; `None` where they cannot be those of a keyed line.
    pub(super) fn new(
        cutter: &mut ToneCutter,
        ln_i0: &LnI0,
        sound: &Levelled,
        candidate: &Candidate,
    ) -> Option<Self> {
        let (from_s, to_s) = (candidate.from_s, candidate.to_s);
        let streams = candidate
            .tones_hz
            .map(|hz| cutter.cut(sound.band(), hz, from_s, to_s))
            .map(|stream| {
                let carriers = candidate.carriers_hz.iter();
                carriers.fold(stream, |stream, hz| stream.without(*hz))
            });
        let points = ((to_s - from_s) / PROBE_S * PROBE_STEPS as f64) as usize;
        let levels = Grid {
            begin_s: from_s,
            step_s: PROBE_S / PROBE_STEPS as f64,
            steps: PROBE_STEPS,
            points,
        };
        let noise = candidate.noise_density.map(|d| d / PROBE_S as f32);
        let rough = Showings::new(&streams, candidate.tones_hz, &levels, noise);
        if rough.exclusive(noise, candidate.is_weak, BOTH[0]) <= 0.0 {
            return None;
        }
        let offsets_hz = [0, 1].map(|k| rough.offset_hz(k));
        let offset_hz = |k: usize| match candidate.missing {
            Some(missing) => offsets_hz[1 - missing],
            None => offsets_hz[k],
        };
        let tones_hz = [0, 1].map(|k| candidate.tones_hz[k] + offset_hz(k));
        if tones_hz[1] - tones_hz[0] < LEAST_SHIFT_HZ {
            return None;
        }
        let better = Showings::new(&streams, tones_hz, &levels, noise);
        if !better.is_keyed(noise) {
            return None;
        }
        let power = [0, 1].map(|k| match candidate.missing == Some(k) {
            true => vec![0.0; points.max(1)],
            false => better.power(k, noise[k], points, ln_i0),
        });
        Some(Self {
            tones_hz,
            clear: clear_on_grid(sound, &levels)
                .iter()
                .map(|c| c * PROBE_S as f32)
                .collect(),
            sums: better.sums,
            power,
            levels,
            density: candidate.noise_density,
            from_s,
            to_s,
            trim: 0,
            is_doubtful: candidate.missing.is_none()
                && (candidate.is_shared
                    || rough.exclusive(noise, candidate.is_weak, BOTH[1]) <= 0.0),
            is_shared: candidate.is_shared,
            missing: candidate.missing,
        })
    }

    /// Elements of a rate, with one of the tones as mark.
    pub(super) fn elements(&self, rate: f64, mark: usize, steps: usize, ln_i0: &LnI0) -> Elements {
        let (grid, tones, clear) = self.on_grid(rate, steps);
        let order = [&tones[mark], &tones[1 - mark]];
        let steps = (steps, self.trim * steps / STEPS);
        Elements::weigh_middles(steps, grid.points, order, &clear, ln_i0)
    }

    /// The same, with either of the tones as mark.
    pub(super) fn both_senses(&self, rate: f64, steps: usize, ln_i0: &LnI0) -> [Elements; 2] {
        let (grid, tones, clear) = self.on_grid(rate, steps);
        let steps = (steps, self.trim * steps / STEPS);
        Elements::both_senses(steps, grid.points, &tones, &clear, ln_i0)
    }

    /// Both tones, and clear sound, on the grid of a rate.
    fn on_grid(&self, rate: f64, steps: usize) -> (Grid, [ToneOnGrid; 2], Vec<f32>) {
        let step_s = 1.0 / rate / steps as f64;
        let points = ((self.to_s - self.from_s) / step_s) as usize;
        let grid = Grid {
            begin_s: self.from_s,
            step_s,
            steps,
            points,
        };
        let times = || (0..=points).map(|i| grid.at(i as f64));
        let tone = |k: usize| ToneOnGrid {
            sums: sums_on_grid(&self.sums[k], &grid),
            power: times().map(|t| self.power_at(k, t)).collect(),
            noise: times().map(|t| self.noise_at(k, t) * rate as f32).collect(),
        };
        let clear = times().map(|t| self.clear_at(t) * rate as f32).collect();
        (grid, [tone(0), tone(1)], clear)
    }

    fn clear_at(&self, t: f64) -> f32 {
        let place = ((t - self.levels.begin_s) / self.levels.step_s).max(0.0);
        let i = (place as usize).min(self.clear.len().saturating_sub(2));
        self.clear[i] + (self.clear[i + 1] - self.clear[i]) * (place - i as f64).min(1.0) as f32
    }

    /// Noise power per baud; where a tone is strong, as much as leaves every rate the same
    /// certainty in the same time.
    fn noise_at(&self, k: usize, t: f64) -> f32 {
        self.density[k].max(self.power_at(k, t) * STRONG_S)
    }

    fn power_at(&self, k: usize, t: f64) -> f32 {
        let i = ((t - self.levels.begin_s) / self.levels.step_s) as usize;
        self.power[k][i.min(self.power[k].len() - 1)]
    }
}

/// What probes of 20 ms show of both tones.
struct Showings {
    sums: [RunningSum; 2],
    lists: [Vec<Showing>; 2],
    turns: [Complex32; 2],
    grids: [Vec<Complex32>; 2],
}

impl Showings {
    fn new(streams: &[ToneStream; 2], tones_hz: [f64; 2], levels: &Grid, noise: [f32; 2]) -> Self {
        let sums = [0, 1].map(|k| streams[k].follow(&Track::constant(tones_hz[k])));
        let grids = [0, 1].map(|k| sums_on_grid(&sums[k], levels));
        let mut all = Self {
            sums,
            lists: [vec![], vec![]],
            turns: [Complex32::default(); 2],
            grids: [vec![], vec![]],
        };
        for i in (0..levels.points.saturating_sub(PROBE_STEPS)).step_by(PROBE_STEPS / 2) {
            all.take(&grids, i, noise);
        }
        all.grids = grids;
        all
    }

    fn take(&mut self, grids: &[Vec<Complex32>; 2], i: usize, noise: [f32; 2]) {
        let half = PROBE_STEPS / 2;
        let x = [0, 1].map(|k| grids[k][i + PROBE_STEPS] - grids[k][i]);
        let power = x.map(|x| x.norm_sqr());
        let over = [0, 1].map(|k| power[k] / noise[k].max(f32::MIN_POSITIVE));
        let sent = 1.0 / (1.0 + (over[1] - over[0]).clamp(-40.0, 40.0).exp());
        for (k, sent) in [sent, 1.0 - sent].into_iter().enumerate() {
            let grid = &grids[k];
            let (a, b, c) = (grid[i], grid[i + half], grid[i + PROBE_STEPS]);
            self.turns[k] += (c - b) * (b - a).conj() * sent;
            self.lists[k].push(Showing {
                at: (i + half) as f64,
                span: 1.0,
                power: power[k],
                sent,
            });
        }
    }

    /// Score of at most one of the two tones being there at a time: over stretches of 10 ms,
    /// short against most elements. One with `both` weighs so much against one with one alone;
    /// one with neither speaks against a pair, unless it is weak.
    fn exclusive(&self, noise: [f32; 2], is_weak: bool, both: f32) -> f32 {
        let grids = &self.grids;
        let neither = if is_weak { 0.0 } else { -0.25 };
        const STRETCH: usize = PROBE_STEPS / 2;
        let mut score = 0.0;
        for i in (0..grids[0].len() - STRETCH).step_by(STRETCH) {
            // A stretch of half an element holds half of its noise in power of the sum.
            let over = [0, 1].map(|k| {
                let x = grids[k][i + STRETCH] - grids[k][i];
                x.norm_sqr() / (0.5 * noise[k]).max(f32::MIN_POSITIVE)
            });
            let (low, high) = (over[0].min(over[1]), over[0].max(over[1]));
            score += match () {
                () if high < 3.0 => neither,
                () if low < 0.25 * high + 2.0 => 1.0,
                () => -both,
            };
        }
        score
    }

    /// Whether either tone was ever gone while the other was there: two steady tones are no
    /// line, and need no closer look.
    fn is_keyed(&self, noise: [f32; 2]) -> bool {
        let over = |k: usize, s: &Showing| s.power / noise[k].max(f32::MIN_POSITIVE);
        let pairs = self.lists[0].iter().zip(&self.lists[1]);
        let keyed = pairs.filter(|(a, b)| {
            let (a, b) = (over(0, a), over(1, b));
            a.min(b) < 0.25 * a.max(b) + 2.0
        });
        4 * keyed.count() > self.lists[0].len()
    }

    /// How far off tone `k` lies from where it was looked for, Hz.
    fn offset_hz(&self, k: usize) -> f64 {
        (f64::from(self.turns[k].arg()) / (std::f64::consts::PI * PROBE_S)).clamp(-20.0, 20.0)
    }

    fn power(&self, k: usize, noise: f32, points: usize, ln_i0: &LnI0) -> Vec<f32> {
        let weight: f32 = self.lists[k].iter().map(|s| s.sent).sum::<f32>().max(1e-3);
        let sum: f32 = self.lists[k].iter().map(|s| s.sent * s.power).sum();
        let mean = (sum / weight - noise).max(0.1 * noise);
        follow_power(
            &self.lists[k],
            noise,
            mean,
            points.max(1),
            PROBE_STEPS,
            ln_i0,
        )
    }
}
