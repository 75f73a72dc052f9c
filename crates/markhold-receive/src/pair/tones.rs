//! Narrow streams of the two tones, taken out of the band.

use markhold_signal::{Band, Complex32, Complex64, Extractor, running::RunningSum};

use super::track::Track;
use crate::levelled::Levelled;

/// Samples a second of a tone's stream: room for elements of 9 ms with their spectrum.
const STREAM_HZ: f64 = 2000.0;
/// The flat part of a tone's filter, on either side, in modulation rates. What an element
/// keeps beyond is 1/(pi^2 5.5) of its energy, 0.08 dB.
const FLAT_RATES: f64 = 5.5;
/// Width of the slope beyond, Hz: its impulse response is gone within the frame's guard.
const SLOPE_HZ: f64 = 80.0;
/// A carrier is told from what is keyed beside it by so long, s: longer than characters, shorter than it
/// takes to fade. What lies more than 12 Hz from it stays.
const CARRIER_S: f64 = 0.25;

/// One tone's stream, not yet moved to its exact frequency.
#[derive(Clone, Debug)]
pub struct ToneStream {
    samples: Vec<Complex32>,
    rate_hz: f64,
    begin_s: f64,
    centre_hz: f64,
}

/// Takes tones out of a band.
pub struct ToneCutter {
    extractor: Extractor,
    response: Vec<f32>,
}

impl ToneCutter {
    /// Cuts streams wide enough for a modulation rate in baud.
    pub fn new(plan: markhold_signal::BandPlan, rate_baud: f64) -> Self {
        Self::with_stream(plan, rate_baud, STREAM_HZ)
    }

    /// The same, with at least `stream_hz` samples a second: more than twice the width of the
    /// filter on either side.
    pub fn with_stream(plan: markhold_signal::BandPlan, rate_baud: f64, stream_hz: f64) -> Self {
        Self::wide(plan, FLAT_RATES * rate_baud, stream_hz)
    }

    /// Cuts streams of all within `flat` Hz on either side.
    pub fn wide(plan: markhold_signal::BandPlan, flat: f64, stream_hz: f64) -> Self {
        let extractor = Extractor::new(plan, stream_hz);
        let half = extractor.bins() as f64 / 2.0;
        let response = (0..extractor.bins())
            .map(|i| {
                let beyond = ((i as f64 - half).abs() * plan.bin_hz() - flat) / SLOPE_HZ;
                (0.5 + 0.5 * (std::f64::consts::PI * beyond.clamp(0.0, 1.0)).cos()) as f32
            })
            .collect();
        Self {
            extractor,
            response,
        }
    }

    /// The stream around `hz` from instant `from` to `to`, s, as far as frames are there.
    pub fn cut(&mut self, band: &Band, hz: f64, from: f64, to: f64) -> ToneStream {
        let plan = band.plan();
        let centre = (hz / plan.bin_hz()).round() as usize;
        let first = plan
            .frame_holding((from * plan.rate_hz).floor() as i64)
            .max(band.oldest_frame());
        let last = plan
            .frame_holding((to * plan.rate_hz).ceil() as i64 + 1)
            .min(band.next_frame().saturating_sub(1));
        let mut samples = Vec::with_capacity(
            (last + 1).saturating_sub(first) as usize * self.extractor.outputs(),
        );
        for index in first..=last {
            if let Some(bins) = band.frame(index) {
                self.extractor
                    .extract(bins, index, centre, &self.response, &mut samples);
            }
        }
        ToneStream {
            samples,
            rate_hz: self.extractor.rate_hz(),
            begin_s: plan.output_start(first) as f64 / plan.rate_hz,
            centre_hz: centre as f64 * plan.bin_hz(),
        }
    }
}

/// The grid of a window: points `begin_s + i * step_s`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// First point, s.
    pub begin_s: f64,
    /// Distance of points, s.
    pub step_s: f64,
    /// Points to the element.
    pub steps: usize,
    /// Number of points.
    pub points: usize,
}

impl Grid {
    /// Instant of a (fractional) grid point, s.
    pub fn at(&self, i: f64) -> f64 {
        self.begin_s + i * self.step_s
    }

    /// Instant after the last point, s.
    pub fn end_s(&self) -> f64 {
        self.at(self.points as f64)
    }

    /// Duration of an element, s.
    pub fn element_s(&self) -> f64 {
        self.step_s * self.steps as f64
    }
}

impl ToneStream {
    /// The samples, not moved: the analytic signal.
    pub fn samples(&self) -> &[Complex32] {
        &self.samples
    }

    /// Samples a second.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// The frequency that stands at zero, Hz.
    pub fn centre_hz(&self) -> f64 {
        self.centre_hz
    }

    /// The stream moved down by a track, as a running integral.
    pub fn follow(&self, track: &Track) -> RunningSum {
        let moved = self
            .samples
            .iter()
            .zip(self.turns(track))
            .map(|(y, turn)| Complex64::new(f64::from(y.re), f64::from(y.im)) * turn.conj());
        RunningSum::new(moved, self.rate_hz, self.begin_s)
    }

    /// The stream without a carrier at `hz`: what stands there over a quarter of a second is taken
    /// away.
    pub fn without(&self, hz: f64) -> Self {
        let track = Track::constant(hz);
        let means = self.means(&self.follow(&track));
        // A mean of means weighs by a triangle, whose side lobes are 26 dB down.
        let carrier = self.means(&RunningSum::new(means, self.rate_hz, self.begin_s));
        let carrier = carrier.into_iter().zip(self.turns(&track));
        let freed = self.samples.iter().zip(carrier).map(|(y, (mean, turn))| {
            let carrier = mean * turn;
            y - Complex32::new(carrier.re as f32, carrier.im as f32)
        });
        Self {
            samples: freed.collect(),
            ..self.clone()
        }
    }

    /// What an oscillator along a track does, at every sample.
    fn turns(&self, track: &Track) -> impl Iterator<Item = Complex64> {
        let count = self.samples.len();
        track.turns(self.centre_hz, self.begin_s, self.rate_hz, count)
    }

    /// Means around every sample, of as much of [`CARRIER_S`] as there is.
    fn means(&self, sum: &RunningSum) -> Vec<Complex64> {
        let last_s = self.begin_s + self.samples.len().saturating_sub(1) as f64 / self.rate_hz;
        let mean = |n: usize| {
            let at_s = self.begin_s + n as f64 / self.rate_hz;
            let from_s = (at_s - CARRIER_S / 2.0).max(self.begin_s);
            let to_s = (at_s + CARRIER_S / 2.0).min(last_s);
            sum.between(from_s, to_s) / (to_s - from_s).max(1.0 / self.rate_hz)
        };
        (0..self.samples.len()).map(mean).collect()
    }
}

/// Integrals up to every grid point and one more, in units of elements.
pub fn sums_on_grid(sum: &RunningSum, grid: &Grid) -> Vec<Complex32> {
    let origin = sum.at(grid.begin_s);
    let unit = 1.0 / grid.element_s();
    (0..=grid.points)
        .map(|i| {
            let value = (sum.at(grid.at(i as f64)) - origin) * unit;
            Complex32::new(value.re as f32, value.im as f32)
        })
        .collect()
}

/// Clear sound up to every grid point and one more, in elements.
pub fn clear_on_grid(sound: &Levelled, grid: &Grid) -> Vec<f32> {
    let origin = sound.clear_until(grid.begin_s);
    let unit = 1.0 / grid.element_s();
    (0..=grid.points)
        .map(|i| ((sound.clear_until(grid.at(i as f64)) - origin) * unit) as f32)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, levelled, sound};
    use markhold_signal::BandPlan;
    use std::f64::consts::{PI, TAU};

    const GRID: Grid = Grid {
        begin_s: 1.0,
        step_s: 0.02 / 16.0,
        steps: 16,
        points: 800,
    };

    #[test]
    fn a_carrier_goes_and_what_is_beside_it_stays() {
        let tone = |hz: f64, level: f64| move |t: f64| level * (TAU * hz * t).cos();
        let stream = |of: &dyn Fn(f64) -> f64| {
            let sound = levelled(&sound(3.0, 0.001, of));
            ToneCutter::new(BandPlan::new(RATE_HZ), 50.0).cut(sound.band(), 1300.0, 0.5, 2.5)
        };
        let (keyed, carrier) = (tone(1300.0, 0.1), tone(1384.0, 0.5));
        let clean = stream(&keyed);
        let freed = stream(&|t| keyed(t) + carrier(t)).without(1384.0);
        let power =
            |list: &mut dyn Iterator<Item = Complex32>| -> f32 { list.map(|y| y.norm_sqr()).sum() };
        let inner = 500..clean.samples.len() - 500;
        let off = inner.clone().map(|i| freed.samples[i] - clean.samples[i]);
        let (off, all) = (
            power(&mut off.into_iter()),
            power(&mut inner.map(|i| clean.samples[i])),
        );
        // Of the carrier, 25 times as strong, a five-thousandth is left (measured: 0.0054 of the tone).
        assert!(off < 0.006 * all, "{off} of {all}");
    }

    /// The tone at 1234.5 Hz and amplitude 0.4, followed at `hz`, as sums on the grid.
    fn sums(hz: f64) -> Vec<Complex32> {
        let sound = levelled(&sound(3.0, 0.01, |t| 0.4 * (TAU * 1234.5 * t).cos()));
        let mut cutter = ToneCutter::new(BandPlan::new(RATE_HZ), 50.0);
        let stream = cutter.cut(sound.band(), hz, 0.9, 2.1);
        sums_on_grid(&stream.follow(&Track::constant(hz)), &GRID)
    }

    /// A real tone is two turning phasors of half its amplitude; the stream holds one.
    #[test]
    fn an_element_of_a_tone_integrates_to_half_its_amplitude() {
        let sums = sums(1234.5);
        assert_eq!(sums.len(), GRID.points + 1);
        assert_eq!(sums[0], Complex32::default());
        for i in 0..GRID.points - GRID.steps {
            let got = (sums[i + GRID.steps] - sums[i]).norm();
            assert!((got - 0.2).abs() < 0.004, "point {i}: {got}");
        }
    }

    /// Off by `d` modulation rates the integral shrinks to `sin(pi d) / (pi d)`.
    #[test]
    fn an_element_beside_the_track_shrinks_as_a_sinc() {
        for off_hz in [-40.0, -10.0, 5.0, 25.0, 50.0] {
            let sums = sums(1234.5 + off_hz);
            let expected = 0.2 * ((PI * off_hz * 0.02).sin() / (PI * off_hz * 0.02)).abs() as f32;
            for i in (0..GRID.points - GRID.steps).step_by(7) {
                let got = (sums[i + GRID.steps] - sums[i]).norm();
                let error = (got - expected).abs();
                assert!(error < 0.004, "{off_hz} Hz: {got} for {expected}");
            }
        }
    }

    #[test]
    fn what_a_crash_covered_is_missing_from_the_clear_sound() {
        let mut noisy = sound(3.0, 0.05, |_| 0.0);
        let (from, to) = ((1.5 * RATE_HZ) as usize, (1.6 * RATE_HZ) as usize);
        noisy[from..to].iter_mut().for_each(|y| *y *= 30.0);
        let clear = clear_on_grid(&levelled(&noisy), &GRID);
        let at = |s: f64| clear[((s - GRID.begin_s) / GRID.step_s).round() as usize];
        assert!((at(1.4) - 20.0).abs() < 0.1, "before: {}", at(1.4));
        // The crash of 0.1 s is five elements; its edges are blanked some milliseconds wide.
        let covered = 50.0 - at(2.0);
        assert!((4.5..6.5).contains(&covered), "covered: {covered} elements");
        assert!(clear.is_sorted());
    }
}
