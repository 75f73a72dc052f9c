//! A window: a stretch of one pair's sound, cut out of the band and read on a grid.
//!
//! Cutting gives narrow streams of both tones; reading moves them down by the tracks,
//! weighs their elements with the levels that are known, frames them, and gives the
//! characters and the course of the line. A window may be read any number of times: only
//! the tracks and the levels change from reading to reading.

use markhold_signal::bessel::LnI0;

use super::levels::Levels;
use super::spans::{Span, spans};
use super::tones::{Grid, ToneCutter, ToneStream, clear_on_grid, sums_on_grid};
use super::track::Track;
use crate::characters::framing::{Carry, Framed, LinePriors, evidence_of, frame};
use crate::characters::reading::{Reading, read};
use crate::elements::{Elements, ToneOnGrid};
use crate::levelled::Levelled;
use crate::senders::evidence::{Closer, Senders};
use crate::senders::{model::Tuning, sound::Sound};

/// Grid points to the element: a start is missed by at most 1/32 element, 0.1 dB.
pub const STEPS: usize = 16;
/// What the streams hold beyond the window on either side, s.
const MARGIN_S: f64 = 0.02;
/// Distance of the knots at which tracks may bend, s.
const KNOTS_S: f64 = 0.2;
/// Bound on the energy of an element over noise in trials of speed, below the elements'
/// own: it must not grow with the number of elements in the same time.
const TRIAL_ENERGY: f32 = 36.0;

/// Probability from which a non-coherent reading needs no closer look.
const CERTAIN: f32 = 0.998;
/// How far what is known of the line may be from certain, as a probability.
const DOUBT: f32 = 0.02;

/// One window being read.
pub struct Window {
    /// Its grid.
    pub grid: Grid,
    /// Narrow streams of mark and of space.
    pub streams: [ToneStream; 2],
    /// Clear sound up to every grid point and one more, elements.
    pub clear: Vec<f32>,
}

/// What one reading of a window gave.
#[derive(Clone)]
pub struct WindowReading {
    /// Mark and space as they were weighed.
    pub tones: [ToneOnGrid; 2],
    /// Their elements.
    pub elements: Elements,
    /// The elements framed.
    pub framed: Framed,
    /// The characters, in order of time.
    pub readings: Vec<Reading>,
    /// The course of the line.
    pub spans: Vec<Span>,
    /// How the characters were read in the end.
    pub look: Look,
}

/// How closely characters were read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Look {
    /// Without phases: they were certain.
    #[default]
    Plain,
    /// By all sender models, of which one that follows no phase or two oscillators leads.
    Closer,
    /// By all sender models, of which one with continuous phase leads.
    Phased,
}

/// All that is known beforehand when a window is read.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// Where mark and space lie.
    pub tracks: &'a [Track; 2],
    /// How strong they are.
    pub levels: &'a Levels,
    /// How the sender goes on after each character.
    pub priors: &'a LinePriors,
    /// How the line stood where the window begins.
    pub carry: &'a Carry,
    /// For likelihoods of envelopes.
    pub ln_i0: &'a LnI0,
}

impl Window {
    /// Cuts the window from `begin_s` to `end_s`, for elements of `element_s`.
    pub fn cut(
        cutter: &mut ToneCutter,
        sound: &Levelled,
        tracks: &[Track; 2],
        element_s: f64,
        (begin_s, end_s): (f64, f64),
    ) -> Self {
        let step_s = element_s / STEPS as f64;
        let grid = Grid {
            begin_s,
            step_s,
            steps: STEPS,
            points: ((end_s - begin_s) / step_s).floor().max(1.0) as usize,
        };
        Self::on_grid(cutter, sound, tracks, grid)
    }

    /// Cuts the window of a grid.
    pub fn on_grid(
        cutter: &mut ToneCutter,
        sound: &Levelled,
        tracks: &[Track; 2],
        grid: Grid,
    ) -> Self {
        let (begin_s, end_s) = (grid.begin_s, grid.end_s());
        let middle = (begin_s + end_s) / 2.0;
        let (from, to) = (begin_s - MARGIN_S, end_s + MARGIN_S);
        Self {
            grid,
            streams: [0, 1].map(|k| cutter.cut(sound.band(), tracks[k].hz(middle), from, to)),
            clear: clear_on_grid(sound, &grid),
        }
    }

    /// Where tracks may bend in the window, s.
    pub fn knots(&self) -> Vec<f64> {
        (0..)
            .map(|k| self.grid.begin_s + KNOTS_S * k as f64)
            .take_while(|t| *t < self.grid.end_s())
            .collect()
    }

    /// Reads the window.
    pub fn read(&self, known: &Known) -> WindowReading {
        let (tones, elements) = self.weighed(known);
        self.framed(tones, elements, known)
    }

    /// Both tones and their elements.
    pub fn weighed(&self, known: &Known) -> ([ToneOnGrid; 2], Elements) {
        let grid = &self.grid;
        let tones = [0, 1].map(|k| ToneOnGrid {
            sums: sums_on_grid(&self.streams[k].follow(&known.tracks[k]), grid),
            power: known.levels.power_on_grid(k, grid, known.ln_i0),
            noise: vec![known.levels.noise()[k]; grid.points + 1],
        });
        let elements = weigh(&tones, &self.clear, known.ln_i0);
        (tones, elements)
    }

    /// Reads the characters of starts again by sender models, in one receiver's tones, which lie on
    /// `tracks`.
    pub fn look_closer(
        &self,
        senders: &mut Senders,
        (tracks, tones): (&[Track; 2], &[ToneOnGrid; 2]),
        start: &[f32],
        (priors, ln_i0): (&LinePriors, &LnI0),
    ) -> Closer {
        let grid = &self.grid;
        let middle = grid.at(grid.points as f64 / 2.0);
        let tuning = Tuning {
            distance_hz: tracks[0].hz(middle) - tracks[1].hz(middle),
            element_s: grid.element_s(),
            offset_hz: [0.0; 2],
            bias: 0.0,
        };
        let sound = Sound {
            steps: grid.steps,
            tones: [&tones[0], &tones[1]],
            clear: &self.clear,
            ln_i0,
            distorted: false,
        };
        senders.read(&sound, start, priors, &tuning)
    }

    /// Frames elements, which may be those of several receivers.
    pub fn framed(
        &self,
        tones: [ToneOnGrid; 2],
        elements: Elements,
        known: &Known,
    ) -> WindowReading {
        let framed = frame(&elements, known.priors, known.carry);
        let readings = read(&framed, &elements);
        let spans = spans(&readings, &framed, self.grid.points, STEPS);
        WindowReading {
            tones,
            elements,
            framed,
            readings,
            spans,
            look: Look::Plain,
        }
    }

    /// Evidence of the window read with elements longer by the share `change`, with nothing
    /// carried in.
    pub fn evidence_with(&self, reading: &WindowReading, known: &Known, change: f64) -> f32 {
        let longer = 1.0 + change;
        let grid = self.grid_with(longer);
        let tones = [0, 1].map(|k| self.tone_with(reading, known, k, &grid, longer));
        let clear = self.clear_with(&grid, longer);
        let elements = weigh(&tones, &clear, known.ln_i0);
        evidence_of(&elements, known.priors)
    }

    /// The grid with elements `longer` times as long, in the same time.
    fn grid_with(&self, longer: f64) -> Grid {
        let points = ((self.grid.points as f64 / longer) as usize)
            .saturating_sub(1)
            .max(1);
        Grid {
            step_s: self.grid.step_s * longer,
            points,
            ..self.grid
        }
    }

    fn tone_with(
        &self,
        reading: &WindowReading,
        known: &Known,
        k: usize,
        grid: &Grid,
        longer: f64,
    ) -> ToneOnGrid {
        let last = self.grid.points;
        let old = |i: usize| ((i as f64 * longer).round() as usize).min(last);
        let tone = &reading.tones[k];
        let noise = |i| tone.noise[old(i)].max(tone.power[old(i)] / TRIAL_ENERGY);
        ToneOnGrid {
            sums: sums_on_grid(&self.streams[k].follow(&known.tracks[k]), grid),
            power: (0..=grid.points).map(|i| tone.power[old(i)]).collect(),
            noise: (0..=grid.points)
                .map(|i| noise(i) / longer as f32)
                .collect(),
        }
    }

    fn clear_with(&self, grid: &Grid, longer: f64) -> Vec<f32> {
        let last = self.grid.points;
        let clear_at = |place: f64| {
            let i = (place as usize).min(last - 1);
            self.clear[i] + (self.clear[i + 1] - self.clear[i]) * (place - i as f64) as f32
        };
        (0..=grid.points)
            .map(|i| clear_at(i as f64 * longer) / longer as f32)
            .collect()
    }
}

/// Log likelihood against noise at which a character may as well be noise: the elements were
/// chosen as what they look like most, which noise gains from too.
const SUPPORT_NEEDED: f32 = 1.0;

impl WindowReading {
    /// The same line as another receiver's tones show it.
    pub fn seen_by(&self, tones: &[ToneOnGrid; 2]) -> Self {
        Self {
            tones: tones.clone(),
            ..self.clone()
        }
    }

    /// Whether a further look could not change what is given out: up to the commit point all
    /// characters that begin after `after_s` are certain, and so is that there are no others.
    pub fn is_certain(&self, grid: &Grid, after_s: f64, commit_s: f64) -> bool {
        let given_out = |r: &&Reading| grid.at(r.start) < commit_s && grid.at(r.start) > after_s;
        let sure = |r: &Reading| r.probability() > CERTAIN;
        let points = ((commit_s - grid.begin_s) / grid.step_s) as usize;
        let points = points.min(grid.points);
        self.holds_no_others(points)
            && is_settled(&self.framed.off[..points])
            && self.readings.iter().filter(given_out).all(sure)
    }

    /// Probability that what was read as a character was a signal at all and no noise: the
    /// likelihood of its elements as read against noise alone.
    pub fn support(&self, reading: &Reading) -> f32 {
        let at = |list: &[f32], k: usize| {
            let i = reading.start.round().max(0.0) as usize + k * STEPS;
            list.get(i).copied().unwrap_or(0.0)
        };
        let (mark, space) = (&self.elements.mark, &self.elements.space);
        let data = (0..5).map(|k| {
            let p = reading.mark(k);
            p * at(mark, k + 1) + (1.0 - p) * at(space, k + 1)
        });
        let all = at(space, 0) + data.sum::<f32>() + at(mark, 6);
        1.0 / (1.0 + (SUPPORT_NEEDED - all).exp())
    }

    /// Whether the first `points` hold no characters but those that were read.
    fn holds_no_others(&self, points: usize) -> bool {
        let starts: f32 = self.framed.start[..points].iter().sum();
        let before = self.readings.iter().filter(|r| r.start < points as f64);
        let heard: f32 = before.map(|r| r.present).sum();
        (starts - heard).abs() < DOUBT
    }
}

/// Whether the line was on throughout, or off throughout.
fn is_settled(off: &[f32]) -> bool {
    off.iter().all(|off| *off < DOUBT) || off.iter().all(|off| *off > 1.0 - DOUBT)
}

/// The elements from every grid point but the last, up to which the integrals reach.
fn weigh(tones: &[ToneOnGrid; 2], clear: &[f32], ln_i0: &LnI0) -> Elements {
    let [mark, space] = tones;
    Elements::weigh(STEPS, clear.len() - 1, mark, space, clear, ln_i0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::{RATE_HZ, levelled, sound};
    use markhold_signal::BandPlan;

    const NOISE: f64 = 0.02;
    const ELEMENT_S: f64 = 0.02;
    /// Start, E (ITU-T S.1 combination 5), one stop of 1.5 units, in half units.
    const HALVES: [bool; 15] = [
        false, false, true, true, false, false, false, false, false, false, false, false, true,
        true, true,
    ];

    /// E without end at 50 baud from 0.3 s on, 1000 Hz mark and 1170 Hz space; read with
    /// elements of `element_s` from within a stop element on.
    fn window(element_s: f64, run: impl Fn(&Window, &Known)) {
        let sound = levelled(&sound(4.0, NOISE, |t| {
            let half = ((t - 0.3).max(0.0) / (ELEMENT_S / 2.0)) as usize;
            let mark = t < 0.3 || HALVES[half % 15];
            let hz = if mark { 1000.0 } else { 1170.0 };
            0.1 * (std::f64::consts::TAU * hz * t).cos()
        }));
        let tracks = [1000.0, 1170.0].map(Track::constant);
        let mut cutter = ToneCutter::new(BandPlan::new(RATE_HZ), 50.0);
        let noise = [(NOISE * NOISE / RATE_HZ / ELEMENT_S) as f32; 2];
        let mut known = Known {
            tracks: &tracks,
            levels: &Levels::new([0.0025; 2], noise),
            priors: &LinePriors::unknown(STEPS),
            carry: &Carry::nothing(),
            ln_i0: &LnI0::default(),
        };
        // What was read before says that the line is on.
        let before = Window::cut(&mut cutter, &sound, &tracks, element_s, (0.5, 2.0));
        let reading = before.read(&known);
        let cut = (0.52 / before.grid.step_s).round() as usize;
        let carry = reading.framed.carry(&reading.elements, known.priors, cut);
        known.carry = &carry;
        let stretch = (before.grid.at(cut as f64), 3.0);
        let window = Window::cut(&mut cutter, &sound, &tracks, element_s, stretch);
        run(&window, &known);
    }

    #[test]
    fn characters_are_read_where_they_were_sent() {
        window(ELEMENT_S, |window, known| {
            let reading = window.read(known);
            // Characters begin every 0.15 s: at 1.05 s, 1.2 s and so on up to 2.85 s.
            assert_eq!(reading.readings.len(), 13);
            for (k, r) in reading.readings.iter().enumerate() {
                let error_s = window.grid.at(r.start) - (1.05 + 0.15 * k as f64);
                assert!(error_s.abs() < 0.001, "character {k} is off by {error_s} s");
                assert_eq!(r.best(), 0b00001, "character {k}");
            }
            assert!(reading.is_certain(&window.grid, 0.0, 2.5));
        });
    }

    #[test]
    fn an_unsure_character_counts_only_if_it_is_given_out() {
        window(ELEMENT_S, |window, known| {
            let mut reading = window.read(known);
            reading.readings[2].codes = [1.0 / 32.0; 32];
            let at_s = window.grid.at(reading.readings[2].start);
            for (after_s, commit_s, certain) in [
                (0.0, 2.5, false),
                (at_s + 0.01, 2.5, true),
                (0.0, at_s - 0.01, true),
            ] {
                let got = reading.is_certain(&window.grid, after_s, commit_s);
                assert_eq!(got, certain, "after {after_s} s up to {commit_s} s");
            }
            reading.readings.remove(2);
            assert!(
                !reading.is_certain(&window.grid, 0.0, 2.5),
                "one is missing"
            );
        });
    }

    #[test]
    fn the_right_speed_has_the_most_evidence() {
        for off in [-0.005, 0.0, 0.005] {
            window(ELEMENT_S * (1.0 + off), |window, known| {
                let reading = window.read(known);
                let evidence = |change| window.evidence_with(&reading, known, change);
                let tried = [-0.01, -0.005, 0.0, 0.005, 0.01];
                let best = tried
                    .into_iter()
                    .max_by(|a, b| evidence(*a).total_cmp(&evidence(*b)));
                assert_eq!(best, Some(-off), "elements longer by {off}");
            });
        }
    }

    #[test]
    fn tracks_bend_every_fifth_of_a_second() {
        window(ELEMENT_S, |window, _| {
            let knots = window.knots();
            assert_eq!(knots.len(), 10);
            assert!((knots[0] - 1.02).abs() < 1e-9);
            assert!(knots.windows(2).all(|k| (k[1] - k[0] - 0.2).abs() < 1e-9));
        });
    }
}
