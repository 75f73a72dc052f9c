//! The follower: one pair, walked through window by window.
//!
//! Each window is read twice. The first reading uses what is known so far; from it come
//! the course of the line, from that the gains, the noise and the frequency; the second
//! reading uses those. Readings are given out up to the commit point, the rest of the
//! window is only looked ahead into, and the next window begins a character before it.

use markhold_signal::{BandPlan, Complex32, bessel::LnI0};

use super::gains::{Showing, follow_power};
use super::jumps::follow_jumps;
use super::spans::{Span, spans};
use super::speed::{SpeedFinder, TRIAL};
use super::tones::{Grid, ToneCutter, ToneStream, clear_on_grid, sums_on_grid};
use super::track::Track;
use crate::characters::framing::{Carry, Framed, LinePriors, evidence_of, frame};
use crate::characters::reading::{Reading, read};
use crate::elements::{Elements, ToneOnGrid};
use crate::levelled::Levelled;
use crate::search::rivals::rivals;
use crate::senders::{
    drift::DriftWatch, evidence::Senders, model::Tuning, sound::Sound, stops::StopLearner,
    tuning::offsets,
};

/// Grid points to the element: a start is missed by at most 1/32 element, 0.1 dB.
pub const STEPS: usize = 16;
/// How far a window is committed at a time, s.
const ADVANCE_S: f64 = 1.5;
/// How far a window looks ahead beyond its commit point, s.
const AHEAD_S: f64 = 1.2;
/// A window is looked at again if phases moved its tracks by more than this, Hz.
const RETUNE_HZ: f64 = 0.25;
/// How far a window reaches back before the last commit point, elements.
const BACK_ELEMENTS: f64 = 30.0;
/// For how long showings are kept for the gains of later windows, s.
const MEMORY_S: f64 = 4.0;

/// Time constant of the evidence against rivals, s.
const MARGIN_S: f64 = 10.0;

/// Probability from which a non-coherent reading needs no closer look.
const CERTAIN: f32 = 0.998;

/// Evidence against rivals that a certain character stands for, at least: its start and
/// stop elements fell in place by chance once in four, its five elements fit the clock.
const CERTAIN_EVIDENCE: f32 = 4.0;

/// What must be known of a pair to follow it.
#[derive(Clone, Debug, PartialEq)]
pub struct PairStart {
    /// Where to begin, s.
    pub at_s: f64,
    /// Modulation rate, baud.
    pub rate_baud: f64,
    /// Tone of mark, Hz.
    pub mark_hz: f64,
    /// Tone of space, Hz.
    pub space_hz: f64,
    /// Power of each tone while sent, mark first, in units of the narrow streams.
    pub power: [f32; 2],
    /// Noise power in one element, mark first.
    pub noise: [f32; 2],
}

/// A committed reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Heard {
    /// Begin of the start element, s.
    pub start_s: f64,
    /// What was read.
    pub reading: Reading,
    /// Under what conditions.
    pub conditions: Conditions,
}

/// The conditions under which a character was received.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Energy of an element over noise density, linear, of mark and of space.
    pub energy: [f32; 2],
    /// Share of the character that was not blanked, 0 to 1.
    pub clear: f32,
}

/// What became of the line by the last commit point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineState {
    /// When a signal was first there, s.
    pub begin_s: Option<f64>,
    /// When a signal was last there, s.
    pub on_until_s: Option<f64>,
}

/// Follows one pair.
pub struct Follower {
    // derived
    cutter: ToneCutter,
    ln_i0: LnI0,
    // state
    element_s: f64,
    tracks: [Track; 2],
    carry: Carry,
    priors: LinePriors,
    stops: StopLearner,
    senders: Senders,
    drift: DriftWatch,
    last: Option<(f64, Reading)>,
    begin_s: f64,
    committed_s: f64,
    last_start_s: f64,
    line: LineState,
    speed: SpeedFinder,
    /// Evidence of late that this is a start-stop line and nothing else.
    margin: f32,
    memory: Vec<(f64, [Showing; 2])>,
    mean_power: [f32; 2],
    noise: [f32; 2],
}

/// One window being read.
struct Window {
    grid: Grid,
    streams: [ToneStream; 2],
    clear: Vec<f32>,
}

/// What one reading of a window gave.
struct WindowReading {
    tones: [ToneOnGrid; 2],
    elements: Elements,
    framed: Framed,
    readings: Vec<Reading>,
    spans: Vec<Span>,
}

/// Where tracks bend in a window, s.
fn knots(grid: &Grid) -> Vec<f64> {
    (0..)
        .map(|k| grid.begin_s + 0.2 * k as f64)
        .take_while(|t| *t < grid.at(grid.points as f64))
        .collect()
}

impl Follower {
    /// Begins to follow a pair.
    pub fn new(plan: BandPlan, start: &PairStart) -> Self {
        Self {
            cutter: ToneCutter::new(plan, start.rate_baud),
            ln_i0: LnI0::default(),
            element_s: 1.0 / start.rate_baud,
            tracks: [
                Track::constant(start.mark_hz),
                Track::constant(start.space_hz),
            ],
            carry: Carry::nothing(),
            priors: LinePriors::unknown(STEPS),
            stops: StopLearner::new(STEPS),
            senders: Senders::default(),
            drift: DriftWatch::default(),
            last: None,
            begin_s: start.at_s,
            committed_s: start.at_s,
            last_start_s: f64::NEG_INFINITY,
            line: LineState {
                begin_s: None,
                on_until_s: None,
            },
            margin: 0.0,
            speed: SpeedFinder::default(),
            memory: Vec::new(),
            mean_power: start.power,
            noise: start.noise,
        }
    }

    /// Reads on while the band holds a whole window before instant `until_s`; with `last`,
    /// up to that instant.
    pub fn advance(&mut self, sound: &Levelled, until_s: f64, last: bool, out: &mut Vec<Heard>) {
        while until_s >= self.committed_s + ADVANCE_S + AHEAD_S {
            let commit = self.committed_s + ADVANCE_S;
            self.window(sound, commit + AHEAD_S, commit, out);
        }
        if last && until_s > self.committed_s {
            self.window(sound, until_s, until_s, out);
        }
    }

    fn window(&mut self, sound: &Levelled, end_s: f64, commit_s: f64, out: &mut Vec<Heard>) {
        follow_jumps(
            sound.band(),
            &mut self.tracks,
            self.noise,
            self.element_s,
            self.begin_s,
            end_s,
        );
        let window = self.cut(sound, end_s);
        let mut reading = self.read(&window);
        if !self.is_certain(&window.grid, &reading, commit_s) {
            reading = self.read_tuned(&window, &reading);
        }
        if self.is_certain(&window.grid, &reading, commit_s) {
            self.tune(&window, &reading);
        } else {
            self.read_closely(&window, &mut reading);
        }
        self.remember(&window, &reading, commit_s);
        self.emit(&window, &reading, commit_s, out);
        self.notice_line(&window.grid, &reading.framed, commit_s);
        self.weigh_rivals(&window.grid, &reading, commit_s);
        self.move_on(&window.grid, &reading, commit_s);
        self.measure_speed(&window, &reading);
    }

    /// Evidence of a window read with elements longer by a share.
    fn evidence_with(&self, window: &Window, reading: &WindowReading, change: f64) -> f32 {
        // Bound on the energy of an element over noise, below the elements' own: it must
        // not grow with the number of elements in the same time.
        const BOUND: f32 = 36.0;
        let longer = 1.0 + change;
        let points = ((window.grid.points as f64 / longer) as usize)
            .saturating_sub(1)
            .max(1);
        let grid = Grid {
            step_s: window.grid.step_s * longer,
            points,
            ..window.grid
        };
        let last = window.grid.points;
        let old = |i: usize| ((i as f64 * longer).round() as usize).min(last);
        let tone = |k: usize| {
            let tone = &reading.tones[k];
            ToneOnGrid {
                sums: sums_on_grid(&window.streams[k].follow(&self.tracks[k]), &grid),
                power: (0..=points).map(|i| tone.power[old(i)]).collect(),
                noise: (0..=points)
                    .map(|i| tone.noise[old(i)].max(tone.power[old(i)] / BOUND) / longer as f32)
                    .collect(),
            }
        };
        let clear_at = |place: f64| {
            let i = (place as usize).min(last - 1);
            window.clear[i] + (window.clear[i + 1] - window.clear[i]) * (place - i as f64) as f32
        };
        let clear: Vec<f32> = (0..=points)
            .map(|i| clear_at(i as f64 * longer) / longer as f32)
            .collect();
        let elements = Elements::weigh(STEPS, points, &tone(0), &tone(1), &clear, &self.ln_i0);
        evidence_of(&elements, &self.priors, &Carry::nothing())
    }

    /// Reads the window on trial with elements a little shorter and longer.
    fn measure_speed(&mut self, window: &Window, reading: &WindowReading) {
        let heard = reading.readings.iter().filter(|r| r.present > 0.8).count();
        if heard < 3 || !self.speed.is_due() {
            return;
        }
        let evidence =
            [-TRIAL, 0.0, TRIAL].map(|change| self.evidence_with(window, reading, change));
        if let Some(element_s) = self.speed.learn(evidence, self.element_s) {
            self.element_s = element_s;
        }
    }

    /// Whether a further look could not change what is given out: up to the commit point all
    /// characters are certain, and so is that there are no others.
    fn is_certain(&self, grid: &Grid, reading: &WindowReading, commit_s: f64) -> bool {
        let given_out = |r: &&Reading| {
            let start_s = grid.at(r.start);
            start_s < commit_s && start_s > self.last_start_s + 6.0 * self.element_s
        };
        let sure = |r: &Reading| r.present * r.codes[r.best()] > CERTAIN;
        let points = ((commit_s - grid.begin_s) / grid.step_s) as usize;
        let points = points.min(grid.points);
        let starts: f32 = reading.framed.start[..points].iter().sum();
        let heard: f32 = reading
            .readings
            .iter()
            .filter(|r| r.start < points as f64)
            .map(|r| r.present)
            .sum();
        let off = &reading.framed.off[..points];
        (starts - heard).abs() < 0.02
            && (off.iter().all(|off| *off < 0.02) || off.iter().all(|off| *off > 0.98))
            && reading.readings.iter().filter(given_out).all(sure)
    }

    /// Reads a window a second time, with the gains and frequencies of the first.
    fn read_tuned(&mut self, window: &Window, reading: &WindowReading) -> WindowReading {
        self.tune(window, reading);
        self.remember(window, reading, f64::INFINITY);
        let again = self.read(window);
        self.forget(&window.grid);
        again
    }

    /// Reads a window again by all sender models, and once more where that moved the tracks.
    fn read_closely(&mut self, window: &Window, reading: &mut WindowReading) {
        let before = self.senders.clone();
        let moved_hz = self.look_closer(window, reading);
        if moved_hz.is_some_and(|hz| hz > RETUNE_HZ) {
            self.remember(window, reading, f64::INFINITY);
            *reading = self.read(window);
            self.forget(&window.grid);
            self.senders = before;
            self.look_closer(window, reading);
        }
        if moved_hz.is_none() {
            self.tune(window, reading);
        }
    }

    fn cut(&mut self, sound: &Levelled, end_s: f64) -> Window {
        let step_s = self.element_s / STEPS as f64;
        let points = ((end_s - self.begin_s) / step_s).floor().max(1.0) as usize;
        let grid = Grid {
            begin_s: self.begin_s,
            step_s,
            steps: STEPS,
            points,
        };
        let middle = (self.begin_s + end_s) / 2.0;
        let (from, to) = (self.begin_s - 0.02, end_s + 0.02);
        let streams = [0, 1].map(|k| {
            self.cutter
                .cut(sound.band(), self.tracks[k].hz(middle), from, to)
        });
        let clear = clear_on_grid(sound, &grid);
        Window {
            grid,
            streams,
            clear,
        }
    }

    fn read(&self, window: &Window) -> WindowReading {
        let grid = &window.grid;
        let mut sums =
            [0, 1].map(|k| sums_on_grid(&window.streams[k].follow(&self.tracks[k]), grid));
        let tones = [0, 1].map(|k| {
            let showings: Vec<Showing> = self
                .memory
                .iter()
                .map(|(t, s)| Showing {
                    at: (t - grid.begin_s) / grid.step_s,
                    ..s[k]
                })
                .collect();
            let pooled = 0.5 * (self.mean_power[0] + self.mean_power[1]);
            let prior = 0.5 * (self.mean_power[k] + pooled);
            let power = follow_power(
                &showings,
                self.noise[k],
                prior,
                grid.points + 1,
                STEPS,
                &self.ln_i0,
            );
            ToneOnGrid {
                sums: std::mem::take(&mut sums[k]),
                power,
                noise: vec![self.noise[k]; grid.points + 1],
            }
        });
        let elements = Elements::weigh(
            STEPS,
            grid.points,
            &tones[0],
            &tones[1],
            &window.clear,
            &self.ln_i0,
        );
        let framed = frame(&elements, &self.priors, &self.carry);
        let readings = read(&framed, &elements);
        let spans = spans(&readings, &framed, grid.points, STEPS);
        WindowReading {
            tones,
            elements,
            framed,
            readings,
            spans,
        }
    }

    /// Reads a window's characters again, under sender models that follow phase; how far
    /// that moved the tracks, Hz, if phases told.
    fn look_closer(&mut self, window: &Window, reading: &mut WindowReading) -> Option<f64> {
        let grid = &window.grid;
        let middle = grid.at(grid.points as f64 / 2.0);
        let tuning = Tuning {
            distance_hz: self.tracks[0].hz(middle) - self.tracks[1].hz(middle),
            element_s: self.element_s,
            offset_hz: [0.0; 2],
        };
        let sound = Sound {
            steps: STEPS,
            tones: [&reading.tones[0], &reading.tones[1]],
            clear: &window.clear,
            ln_i0: &self.ln_i0,
        };
        let start = &reading.framed.start;
        let closer = self.senders.read(&sound, start, &self.priors, &tuning);
        reading.readings = closer.readings;
        reading
            .framed
            .withhold_where_off(&mut reading.readings, STEPS);
        reading.spans = spans(&reading.readings, &reading.framed, grid.points, STEPS);
        let phases = closer.phases?;
        let knots = knots(grid);
        let times: Vec<f64> = knots.iter().map(|t| t - grid.begin_s).collect();
        let found = offsets(&phases, STEPS, &times);
        for (track, side) in self.tracks.iter_mut().zip([0.5, -0.5]) {
            *track = track.moved(&knots, |i| found.both_hz[i] + side * found.distance_hz);
        }
        let most = found.both_hz.iter().fold(0.0f64, |a, hz| a.max(hz.abs()));
        Some(most.max(found.distance_hz.abs()))
    }

    /// Moves both tracks by the turning of phase within elements.
    fn tune(&mut self, window: &Window, reading: &WindowReading) {
        const CONSTANT_S: f64 = 0.6;
        // Belief that nothing moved, as the weight of so many noise powers.
        const STILL: f32 = 30.0;
        // Offsets of less than some two standard deviations are taken for chance.
        const SURE: f32 = 5.0;
        let grid = &window.grid;
        let half = STEPS / 2;
        let turns: Vec<(f64, Complex32)> = reading
            .spans
            .iter()
            .filter(|s| s.to - s.from == STEPS)
            .map(|s| {
                let turn = [0, 1].map(|k| {
                    let sums = &reading.tones[k].sums;
                    let (a, b, c) = (sums[s.from], sums[s.from + half], sums[s.to]);
                    (c - b) * (b - a).conj() / self.noise[k].max(f32::MIN_POSITIVE)
                });
                let mark = s.mark * s.on;
                let space = (1.0 - s.mark) * s.on;
                (
                    grid.at((s.from + half) as f64),
                    turn[0] * mark + turn[1] * space,
                )
            })
            .collect();
        if turns.is_empty() {
            return;
        }
        let knots = knots(grid);
        let offset = |i: usize| {
            let near = |t: f64| (-(t - knots[i]).abs() / CONSTANT_S).exp() as f32;
            let still = Complex32::new(STILL, 0.0);
            let sum: Complex32 = turns.iter().map(|(t, c)| c * near(*t)).sum::<Complex32>();
            let squares: f32 = turns
                .iter()
                .map(|(t, c)| c.norm_sqr() * near(*t).powi(2))
                .sum();
            let variance = squares / 2.0 / sum.norm_sqr().max(f32::MIN_POSITIVE);
            let angle = (sum + still).arg();
            let doubt = (SURE * variance / angle.powi(2).max(f32::MIN_POSITIVE)).min(1.0);
            f64::from(angle * (1.0 - doubt)) / (std::f64::consts::PI * self.element_s)
        };
        let offsets: Vec<f64> = (0..knots.len()).map(offset).collect();
        for track in &mut self.tracks {
            *track = track.moved(&knots, |i| offsets[i]);
        }
    }

    /// Keeps what spans before `until_s` showed of both tones.
    fn remember(&mut self, window: &Window, reading: &WindowReading, until_s: f64) {
        // A span with less left of it, in elements, shows nothing of its tones.
        const LEAST_CLEAR: f32 = 0.1;
        let grid = &window.grid;
        for span in &reading.spans {
            let at = grid.at((span.from + span.to) as f64 / 2.0);
            if at < self.committed_s || at >= until_s {
                continue;
            }
            let length = window.clear[span.to] - window.clear[span.from];
            if length < LEAST_CLEAR {
                continue;
            }
            let showing = |k: usize, sent: f32| {
                let sums = &reading.tones[k].sums;
                let x = sums[span.to] - sums[span.from];
                Showing {
                    at: 0.0,
                    span: length,
                    power: x.norm_sqr() / (length * length),
                    sent,
                }
            };
            // While the line seems off, either tone may be there unnoticed, fallen below
            // what was expected of it: let the expectation fall.
            let unknown = 0.5 * (1.0 - span.on);
            let mark = span.mark * span.on + unknown;
            let space = (1.0 - span.mark) * span.on + unknown;
            self.memory
                .push((at, [showing(0, mark), showing(1, space)]));
        }
    }

    /// Drops what was only looked ahead at.
    fn forget(&mut self, _grid: &Grid) {
        let committed = self.committed_s;
        self.memory.retain(|(t, _)| *t < committed);
    }

    fn emit(
        &mut self,
        window: &Window,
        reading: &WindowReading,
        commit_s: f64,
        out: &mut Vec<Heard>,
    ) {
        let grid = &window.grid;
        for r in &reading.readings {
            let start_s = grid.at(r.start);
            if start_s < commit_s && start_s > self.last_start_s + 6.0 * self.element_s {
                self.last_start_s = start_s;
                let conditions = conditions(window, reading, r.start.round() as usize);
                self.learn_stop(grid, start_s, r);
                out.push(Heard {
                    start_s,
                    reading: r.clone(),
                    conditions,
                });
            }
        }
    }

    fn notice_line(&mut self, grid: &Grid, framed: &Framed, commit_s: f64) {
        for (i, off) in framed.off.iter().enumerate() {
            let t = grid.at(i as f64);
            if *off < 0.5 && t <= commit_s {
                self.line.begin_s.get_or_insert(t);
                self.line.on_until_s = Some(t);
            }
        }
    }

    fn weigh_rivals(&mut self, grid: &Grid, reading: &WindowReading, commit_s: f64) {
        let advanced_s = commit_s - self.committed_s;
        let share = (advanced_s / (grid.points as f64 * grid.step_s)).min(1.0) as f32;
        let keep = (-advanced_s / MARGIN_S).exp() as f32;
        let heard = reading.readings.len();
        let margin = if heard > 3 && self.is_certain(grid, reading, commit_s) {
            CERTAIN_EVIDENCE * heard as f32
        } else {
            reading.framed.evidence - rivals(&reading.elements)
        };
        self.margin = self.margin * keep + margin * share;
    }

    fn learn_stop(&mut self, grid: &Grid, start_s: f64, reading: &Reading) {
        if let Some((last_s, last)) = &self.last {
            let at = |s: f64| (s - grid.begin_s) / grid.step_s;
            let moved = |r: &Reading, s: f64| Reading {
                start: at(s),
                ..r.clone()
            };
            self.stops
                .learn(&moved(last, *last_s), &moved(reading, start_s));
            self.priors = self.stops.priors();
        }
        self.last = Some((start_s, reading.clone()));
    }

    fn move_on(&mut self, grid: &Grid, reading: &WindowReading, commit_s: f64) {
        let back = commit_s - BACK_ELEMENTS * self.element_s;
        let cut = ((back - grid.begin_s) / grid.step_s).round().max(0.0) as usize;
        let cut = cut.min(grid.points - 1);
        self.carry = reading.framed.carry(&reading.elements, &self.priors, cut);
        self.begin_s = grid.at(cut as f64);
        self.committed_s = commit_s;
        self.drift.learn(commit_s, self.tracks[0].hz(commit_s));
        let end_s = grid.at(grid.points as f64);
        let drift = self.drift.rate();
        for track in &mut self.tracks {
            *track = track.since(self.begin_s).foretold(end_s, ADVANCE_S, drift);
        }
        self.learn_levels();
        let keep_from = commit_s - MEMORY_S;
        self.memory.retain(|(t, _)| *t >= keep_from);
    }

    /// Long-term noise and power from all that is remembered.
    fn learn_levels(&mut self) {
        for k in 0..2 {
            let (mut noise, mut weight) = (self.noise[k] * 20.0, 20.0f32);
            let (mut power, mut sent) = (self.mean_power[k] * 10.0, 10.0f32);
            for (_, s) in &self.memory {
                let s = &s[k];
                let quiet = if s.sent < 0.1 {
                    s.span * (1.0 - s.sent)
                } else {
                    0.0
                };
                noise += quiet * s.power * s.span;
                weight += quiet;
                power += s.sent * s.span * (s.power - self.noise[k] / s.span);
                sent += s.sent * s.span;
            }
            self.noise[k] = noise / weight;
            self.mean_power[k] = (power / sent).max(self.noise[k] * 0.1);
        }
    }

    /// When the line was on, as far as is decided.
    pub fn line(&self) -> LineState {
        self.line
    }

    /// Evidence of the last ten seconds or so that this is a start-stop line, over the best
    /// other explanation; natural logarithm.
    pub fn margin(&self) -> f32 {
        self.margin
    }

    /// Length of the stop element, units, if characters follow each other at one pace.
    pub fn stop_units(&self) -> Option<f64> {
        self.stops.units()
    }

    /// Up to where readings have been given out, s.
    pub fn committed_s(&self) -> f64 {
        self.committed_s
    }

    /// Modulation rate, baud.
    pub fn rate_baud(&self) -> f64 {
        1.0 / self.element_s
    }

    /// Mean power of mark and space while sent, in units of the narrow streams.
    pub fn power(&self) -> [f32; 2] {
        self.mean_power
    }

    /// Tones of mark and space at the last commit point, Hz.
    pub fn tones_hz(&self) -> [f64; 2] {
        [0, 1].map(|k| self.tracks[k].hz(self.committed_s))
    }

    /// Energy of an element over noise density, linear, mean of both tones.
    pub fn energy(&self) -> f32 {
        (self.mean_power[0] + self.mean_power[1]) / (self.noise[0] + self.noise[1])
    }
}

fn conditions(window: &Window, reading: &WindowReading, start: usize) -> Conditions {
    let last = window.clear.len() - 1;
    let (from, to) = (start.min(last), (start + 6 * STEPS).min(last));
    let energy = [0, 1].map(|k| {
        let tone = &reading.tones[k];
        let range = from..=to;
        let count = (to - from + 1) as f32;
        range
            .map(|i| tone.power[i] / tone.noise[i].max(f32::MIN_POSITIVE))
            .sum::<f32>()
            / count
    });
    let clear = (window.clear[to] - window.clear[from]) * STEPS as f32 / (to - from).max(1) as f32;
    Conditions { energy, clear }
}
