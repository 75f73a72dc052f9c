//! Start-stop framing: where characters begin, as one decision over the whole window.
//!
//! A hidden semi-Markov model of the line:
//!
//! ```text
//!            +--------- idle: whole elements of mark ---------+
//!            v                                                |
//!   off <-> stop1 --> stop2 --> idle --------(remainder)--> start
//!             ^                                               |
//!             +---- start, five elements, one of stop <-------+
//!             |                                  |            ^
//!             +---------------- runs <-----------+            |
//!                                 +---------------------------+
//! ```
//!
//! After the stop element's first whole unit the line stays at mark for any time. It is
//! weighed in whole elements and one exact remainder, never in smaller pieces: a long mark
//! cut into crumbs would pay for an unknown phase at each and lose against characters of
//! noise. A pause is of unknown length, from a moment to minutes: `idle` is a short one,
//! which may turn out to be a long one that costs next to nothing an element.
//!
//! A sender whose stop is one or two units and no more leaves no odd gap to tell characters
//! from elements in any order, so that it must be remembered from one character to the next:
//! `run` is the line where all stops are alike, one after the other.
//! `off` is the line without a signal. All sums run over every path (the forward
//! and backward recursions of hidden Markov models: Rabiner, Proc. IEEE 77(2), 1989), so
//! what comes out are probabilities.

use pulp::{Arch, Simd, WithSimd};

use super::log_sum::{NEVER, add, add_minor, exp_fast, ln_fast, sum};
use super::reading::Reading;
use super::vectors;
use crate::elements::Elements;

/// Elements from the begin of a character to the end of its first whole stop unit.
const CHARACTER: usize = 7;
/// States of the line at mark that the window keeps apart: in the first stop unit's end,
/// in the second's, in a short pause, in a long one.
const MARKS: usize = 4;
/// The ways in which the next character may begin after them: pauses all end alike.
const WAYS: usize = 3;
/// The states of a pause.
const SHORT: usize = 2;
const LONG: usize = 3;

/// Probability that a short pause ends within an element: somebody typing.
const TYPED: f32 = 0.1;
/// Probability that a pause is seen to be a long one, in each element that it lasts.
const SETTLED: f32 = 0.02;
/// Probability that a long pause ends within an element: one of some seconds.
pub const RESUMED: f32 = 0.003;

/// Runs of characters whose stops are all alike: of one unit, of two.
const RUNS: usize = 2;
/// The mark state that is left where a run ends after a character.
const AFTER: [usize; RUNS] = [0, SHORT];
/// Share of the stops of such a length that begin a run of them.
const ALIKE: f32 = 0.3;
/// Probability that a run ends after a character.
pub const APART: f32 = 0.03;
/// A character of such a run begins a grid point early, and a point late: what an error of
/// the rate adds up to now and then.
pub const EARLY: f32 = 0.03;

/// How likely the line's next steps are; natural logarithms where not said otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct LinePriors {
    /// `next[m][r]`: from mark state `m`, the next character begins after `r` steps; a
    /// plain probability, for these are summed. For a pause, given that it ends within the
    /// element.
    pub next: [Vec<f32>; WAYS],
    /// A short and a long pause end within an element; plain probabilities.
    pub ends: [f32; 2],
    /// From mark state `m`, at least one whole element more of mark follows.
    pub stay: [f32; MARKS],
    /// The same, and a short pause becomes a long one.
    pub settle: f32,
    /// A character with a stop of any length is the first of a run of those whose stops are
    /// one unit each, or two.
    pub runs: [f32; RUNS],
    /// The signal begins at a grid point.
    pub on: f32,
    /// The signal ends at a grid point where an element of mark ended.
    pub off: f32,
}

impl LinePriors {
    /// Priors that know nothing of the sender, for `steps` grid points to the element:
    /// half of all stops end within the second unit, with some favour for 1.42 and 1.5
    /// units, and idle line ends after some ten elements.
    pub fn unknown(steps: usize) -> Self {
        Self::from_stops(&Self::unknown_stops(steps), steps, 0.35)
    }

    /// Share of an unknown sender's stops that are `1 + d/steps` units long, for `d` below
    /// two elements; they add up to 1.
    pub fn unknown_stops(steps: usize) -> Vec<f32> {
        let weights: Vec<f32> = (0..2 * steps)
            .map(|d| Self::unknown_stop(d, steps))
            .collect();
        let total: f32 = weights.iter().sum();
        weights.iter().map(|w| w / total).collect()
    }

    fn unknown_stop(extra: usize, steps: usize) -> f32 {
        let units = 1.0 + extra as f32 / steps as f32;
        let near = |at: f32| (-((units - at) * 12.0).powi(2)).exp();
        let favoured = near(1.0) + 2.0 * near(1.45) + near(1.55) + near(2.0);
        if units <= 2.0 { 0.3 + favoured } else { 0.1 }
    }

    /// Priors from the share of characters whose stop element was `1 + d/steps` units long
    /// (`stops[d]`, two elements' worth, any scale) and the share with a longer pause.
    pub fn from_stops(stops: &[f32], steps: usize, paused: f32) -> Self {
        let total: f32 = stops.iter().sum::<f32>().max(f32::MIN_POSITIVE);
        let share: Vec<f32> = stops.iter().map(|s| s / total * (1.0 - paused)).collect();
        let ends_first: f32 = share[..steps].iter().sum();
        let stays_first = (1.0 - ends_first).max(1e-6);
        let second: Vec<f32> = share[steps..2 * steps]
            .iter()
            .map(|s| s / stays_first)
            .collect();
        let stays_second = (1.0 - second.iter().sum::<f32>()).max(1e-6);
        let some = |s: &f32| s.max(1e-9);
        let goes_on = 1.0 - TYPED;
        Self {
            next: [
                share[..steps].iter().map(some).collect(),
                second.iter().map(some).collect(),
                vec![1.0 / steps as f32; steps],
            ],
            ends: [TYPED, RESUMED],
            stay: [
                stays_first.ln(),
                stays_second.ln(),
                (goes_on * (1.0 - SETTLED)).ln(),
                (1.0 - RESUMED).ln(),
            ],
            settle: (goes_on * SETTLED).ln(),
            runs: [
                share[0] + share[1],
                share[steps - 1] + share[steps] + share[steps + 1],
            ]
            .map(|share| (ALIKE * share).clamp(1e-6, 0.4).ln()),
            on: (1e-4f32 / steps as f32).ln(),
            off: 1e-6f32.ln(),
        }
    }
}

impl LinePriors {
    /// Probability of each mark state after so many whole elements more of mark, from the end
    /// of the first unit of a stop.
    pub fn after_stop(&self, whole: usize) -> [f32; MARKS] {
        match whole {
            0 => [1.0, 0.0, 0.0, 0.0],
            1 => [0.0, self.stay[0].exp(), 0.0, 0.0],
            _ => {
                let pause = (self.stay[0] + self.stay[1]).exp();
                self.after_pause([pause, 0.0], whole - 2)
            }
        }
    }

    /// The same from within a pause, of which this much is a short and a long one.
    pub fn after_pause(&self, [short, long]: [f32; 2], whole: usize) -> [f32; MARKS] {
        let (stays, settles) = (self.stay[SHORT].exp(), self.settle.exp());
        let lasts = self.stay[LONG].exp();
        let (stayed, lasted) = (stays.powi(whole as i32), lasts.powi(whole as i32));
        let settled = settles * (lasted - stayed) / (lasts - stays);
        [0.0, 0.0, short * stayed, short * settled + long * lasted]
    }

    /// Probability that the next character begins `r` steps later, given the probability of
    /// each mark state.
    pub fn begins(&self, state: [f32; MARKS], r: usize) -> f32 {
        let pause = state[SHORT] * self.ends[0] + state[LONG] * self.ends[1];
        state[0] * self.next[0][r] + state[1] * self.next[1][r] + pause * self.next[2][r]
    }

    /// Probability that the line stays at mark for a whole element more.
    pub fn stays(&self, state: [f32; MARKS]) -> f32 {
        let ends: f32 = state[SHORT] * self.ends[0] + state[LONG] * self.ends[1];
        state[0] * self.stay[0].exp() + state[1] * self.stay[1].exp() + state[SHORT] + state[LONG]
            - ends
    }

    /// A character is the first of no run.
    fn open(&self) -> f32 {
        (-self.runs.map(f32::exp).iter().sum::<f32>()).ln_1p()
    }

    /// The line stays off from one grid point to the next, or comes on for no time at all.
    /// The latter counts here, so that each point waits for one sum only of the last one's.
    fn stay_off(&self) -> f32 {
        let on = self.on.exp();
        (on * self.off.exp() - on).ln_1p()
    }
}

/// What is known of the line at the begin of a window: log probabilities, all relative to
/// the same unknown constant.
#[derive(Clone, Debug, PartialEq)]
pub struct Carry {
    off: f32,
    /// Arrivals of each mark state at the first points of the window.
    marks: [Vec<f32>; MARKS],
    /// Arrivals of characters' ends within each kind of run.
    runs: [Vec<f32>; RUNS],
    /// Arrivals of starts at the first points of the window.
    starts: Vec<f32>,
}

impl Carry {
    /// Nothing known, most likely no signal yet.
    pub fn nothing() -> Self {
        Self {
            off: 0.0,
            marks: [vec![], vec![NEVER], vec![-8.0], vec![]],
            runs: [vec![], vec![]],
            starts: vec![],
        }
    }
}

/// The posterior of one window.
#[derive(Clone, Debug)]
pub struct Framed {
    /// Probability that a character begins at each grid point.
    pub start: Vec<f32>,
    /// Probability that the line is off at each grid point.
    pub off: Vec<f32>,
    /// Log likelihood ratio of the window under this model against noise alone, given the
    /// carried knowledge.
    pub evidence: f32,
    /// What that leaves out: the carried knowledge took the begin of the window into account
    /// already, up to where what it knows of arrives.
    pub head: f32,
    forward: Forward,
    /// Weight of a character from each grid point, kept for the carry.
    character: Vec<f32>,
}

#[derive(Clone, Debug)]
struct Forward {
    off: Vec<f32>,
    marks: [Vec<f32>; MARKS],
    /// A run of each kind goes on.
    runs: [Vec<f32>; RUNS],
    /// Starts after a stop of any length.
    start: Vec<f32>,
    /// Grid points to the element.
    steps: usize,
}

/// Frames a window: runs both recursions over all of its points.
pub fn frame(elements: &Elements, priors: &LinePriors, carry: &Carry) -> Framed {
    let character = character_weights(elements);
    let line = Line {
        elements,
        character: &character,
        priors,
    };
    let arch = Arch::new();
    let forward = arch.dispatch(ForwardOf(&line, carry));
    let backward = arch.dispatch(BackwardOf(&line));
    let evidence = evidence(carry, &backward, elements.points());
    let points = elements.points();
    let posterior = |f: f32, b: f32| exp_fast((f + b - evidence).min(0.0));
    let ln_goes_on = (1.0 - APART).ln();
    let start = |i: usize| {
        let follows = |k: usize| posterior(forward.runs[k][i] + ln_goes_on, backward.follows[k][i]);
        let all = posterior(forward.start[i], backward.start[i]) + follows(0) + follows(1);
        all.min(1.0)
    };
    Framed {
        start: (0..points).map(start).collect(),
        off: (0..points)
            .map(|i| posterior(forward.off[i], backward.off[i]))
            .collect(),
        evidence: evidence - carry.total(),
        head: carry.total() - carry.total_at_begin(elements),
        forward,
        character,
    }
}

/// The evidence alone, as in [`Framed::evidence`], for half the work.
pub fn evidence_of(elements: &Elements, priors: &LinePriors, carry: &Carry) -> f32 {
    let character = character_weights(elements);
    let line = Line {
        elements,
        character: &character,
        priors,
    };
    let backward = Arch::new().dispatch(BackwardOf(&line));
    evidence(carry, &backward, elements.points()) - carry.total()
}

/// What both recursions run over.
struct Line<'a> {
    elements: &'a Elements,
    /// Weight of a character that begins at each point.
    character: &'a [f32],
    priors: &'a LinePriors,
}

struct ForwardOf<'a>(&'a Line<'a>, &'a Carry);

impl WithSimd for ForwardOf<'_> {
    type Output = Forward;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Forward {
        forward(
            simd,
            self.0.elements,
            self.0.character,
            self.0.priors,
            self.1,
        )
    }
}

struct BackwardOf<'a>(&'a Line<'a>);

impl WithSimd for BackwardOf<'_> {
    type Output = Backward;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Backward {
        backward(simd, self.0.elements, self.0.character, self.0.priors)
    }
}

/// Weight of a character that begins at each point: its start element, five elements of
/// either kind, one unit of stop.
fn character_weights(elements: &Elements) -> Vec<f32> {
    let (points, steps) = (elements.points(), elements.steps);
    let at = |list: &[f32], i: usize| list.get(i).copied().unwrap_or(0.0);
    let either: Vec<f32> = (0..points)
        .map(|i| add(elements.mark[i], elements.space[i]) - std::f32::consts::LN_2)
        .collect();
    (0..points)
        .map(|i| {
            let data: f32 = (1..=5).map(|k| at(&either, i + k * steps)).sum();
            elements.space[i] + data + at(&elements.mark, i + 6 * steps)
        })
        .collect()
}

#[inline(always)]
fn forward<S: Simd>(
    simd: S,
    elements: &Elements,
    character: &[f32],
    priors: &LinePriors,
    carry: &Carry,
) -> Forward {
    let (points, steps) = (elements.points(), elements.steps);
    let reach = points + CHARACTER * steps + 1;
    let mut marks = [0, 1, 2, 3].map(|m| with_arrivals(&carry.marks[m], reach));
    let mut runs = [0, 1].map(|k| with_arrivals(&carry.runs[k], reach + steps + 1));
    let mut start = with_arrivals(&carry.starts, points);
    let run = Run::new(priors);
    let mut off = vec![NEVER; points + 1];
    off[0] = carry.off;
    let stay_off = priors.stay_off();
    let mut sums = MarkSums::new(points, steps);
    for i in 0..points {
        for k in 0..RUNS {
            let after = &mut marks[AFTER[k]][i];
            *after = add_minor(*after, runs[k][i] + run.apart);
        }
        let state = [0, 1, 2, 3].map(|m| marks[m][i]);
        let ended = sum(&state) + priors.off;
        marks[SHORT][i] = add_minor(marks[SHORT][i], off[i] + priors.on);
        sums.take(i, [state[0], state[1], marks[SHORT][i], state[3]], priors);
        start[i] = add_minor(start[i], sums.next_starts(simd, i, elements, priors));
        let end = i + CHARACTER * steps;
        let ends = start[i] + character[i];
        marks[0][end] = add_minor(marks[0][end], ends + run.open);
        let second = elements.mark.get(end).copied().unwrap_or(0.0);
        for (k, more) in [0.0, second].into_iter().enumerate() {
            let end = end + k * steps;
            let begins = ends + priors.runs[k] + more;
            let follows = runs[k][i] + run.goes_on + character[i] + more;
            let list = &mut runs[k];
            list[end - 1] = add_minor(list[end - 1], follows + run.off_time);
            list[end] = add_minor(list[end], add_minor(follows + run.on_time, begins));
            list[end + 1] = add_minor(list[end + 1], follows + run.off_time);
        }
        let short = marks[SHORT][i];
        let [first, second, long] = [
            state[0] + priors.stay[0],
            state[1] + priors.stay[1],
            state[LONG] + priors.stay[LONG],
        ];
        let later = i + steps;
        let mark = elements.mark[i];
        marks[1][later] = add_minor(marks[1][later], first + mark);
        let pause = add_minor(second, short + priors.stay[SHORT]);
        marks[SHORT][later] = add_minor(marks[SHORT][later], pause + mark);
        let lasts = add_minor(short + priors.settle, long);
        marks[LONG][later] = add_minor(marks[LONG][later], lasts + mark);
        off[i + 1] = add_minor(off[i] + stay_off, ended);
    }
    Forward {
        off,
        marks,
        runs,
        start,
        steps,
    }
}

/// Log probabilities within a run.
struct Run {
    goes_on: f32,
    apart: f32,
    on_time: f32,
    off_time: f32,
    /// No run begins.
    open: f32,
}

impl Run {
    fn new(priors: &LinePriors) -> Self {
        Self {
            goes_on: (1.0 - APART).ln(),
            apart: APART.ln(),
            on_time: (1.0 - 2.0 * EARLY).ln(),
            off_time: EARLY.ln(),
            open: priors.open(),
        }
    }
}

/// The mark states of all points so far, as a common exponent and a plain share each, so
/// that the many ways to the next start are sums of products. Lists are in reverse order
/// of time in a window that slides through a longer buffer: index `r` is `r` steps back.
struct MarkSums {
    highest: Vec<f32>,
    shares: [Vec<f32>; WAYS],
    /// Where point `i` stands is `end - i`.
    end: usize,
    parts: Vec<f32>,
    weights: Vec<f32>,
}

impl MarkSums {
    fn new(points: usize, steps: usize) -> Self {
        let length = points + steps;
        Self {
            highest: vec![NEVER; length],
            shares: [0, 1, 2].map(|_| vec![0.0; length]),
            end: points - 1,
            parts: vec![0.0; steps],
            weights: vec![0.0; steps],
        }
    }

    #[inline(always)]
    fn take(&mut self, i: usize, marks: [f32; MARKS], priors: &LinePriors) {
        let highest = marks.iter().fold(NEVER, |a, &b| a.max(b));
        let at = self.end - i;
        self.highest[at] = highest;
        let [first, second, short, long] = marks.map(|mark| exp_fast(mark - highest));
        self.shares[0][at] = first;
        self.shares[1][at] = second;
        self.shares[2][at] = short * priors.ends[0] + long * priors.ends[1];
    }

    /// Log weight of all paths by which a character starts at point `i`.
    #[inline(always)]
    fn next_starts<S: Simd>(
        &mut self,
        simd: S,
        i: usize,
        elements: &Elements,
        priors: &LinePriors,
    ) -> f32 {
        let steps = elements.steps;
        let at = self.end - i;
        for (r, part) in self.parts.iter_mut().enumerate() {
            *part = if r <= i {
                elements.part[(i - r) * steps + r]
            } else {
                NEVER
            };
        }
        let window = at..at + steps;
        let weights = &mut self.weights;
        let highest =
            vectors::exps_of_sums(simd, &self.highest[window.clone()], &self.parts, weights);
        let ways = [0, 1, 2].map(|m| (&priors.next[m][..], &self.shares[m][window.clone()]));
        let sum = vectors::dot_of_products(simd, weights, ways);
        highest + ln_fast(sum.max(f32::MIN_POSITIVE))
    }
}

fn with_arrivals(arrivals: &[f32], points: usize) -> Vec<f32> {
    let mut list = vec![NEVER; points];
    for (to, from) in list.iter_mut().zip(arrivals) {
        *to = *from;
    }
    list
}

struct Backward {
    off: Vec<f32>,
    marks: [Vec<f32>; MARKS],
    runs: [Vec<f32>; RUNS],
    start: Vec<f32>,
    /// Given that a character begins there within a run of each kind.
    follows: [Vec<f32>; RUNS],
}

/// Log likelihood of all that follows each point, given the state there. Past the end of
/// the window nothing is known, which is the same for all.
#[inline(always)]
fn backward<S: Simd>(
    simd: S,
    elements: &Elements,
    character: &[f32],
    priors: &LinePriors,
) -> Backward {
    let (points, steps) = (elements.points(), elements.steps);
    let stay_off = priors.stay_off();
    let run = Run::new(priors);
    let mut off = vec![0.0; points + 1];
    let mut start = vec![0.0; points + steps];
    let mut follows = [0, 1].map(|_| vec![0.0; points]);
    let reach = points + (CHARACTER + 1) * steps + 2;
    let mut marks = [0, 1, 2, 3].map(|_| vec![0.0f32; reach]);
    let mut runs = [0, 1].map(|_| vec![0.0f32; reach]);
    let mut weights = vec![0.0; steps];
    for i in (0..points).rev() {
        let end = i + CHARACTER * steps;
        let second = elements.mark.get(end).copied().unwrap_or(0.0);
        let mut then = run.open + marks[0][end];
        for (k, more) in [0.0, second].into_iter().enumerate() {
            let (list, end) = (&runs[k], end + k * steps);
            let around = add_minor(list[end - 1], list[end + 1]) + run.off_time;
            follows[k][i] = character[i] + more + add_minor(run.on_time + list[end], around);
            then = add_minor(then, priors.runs[k] + more + list[end]);
        }
        start[i] = character[i] + then;
        let ended = priors.off + off[i + 1];
        let part = &elements.part[i * steps..(i + 1) * steps];
        let later = &start[i..i + steps];
        let highest = vectors::exps_of_sums(simd, part, later, &mut weights);
        let next = [0, 1, 2].map(|w| vectors::dot(simd, &priors.next[w], &weights));
        let (begins, mark) = (exp_fast, elements.mark[i]);
        let on = |next: f32, stays: f32| {
            let top = highest.max(stays);
            let sum = next * begins(highest - top) + begins(stays - top);
            top + ln_fast(sum.max(f32::MIN_POSITIVE))
        };
        let [second, short, long] = [1, SHORT, LONG].map(|m| marks[m][i + steps] + mark);
        let settles = add_minor(priors.stay[SHORT] + short, priors.settle + long);
        let on = [
            on(next[0], priors.stay[0] + second),
            on(next[1], priors.stay[1] + short),
            on(priors.ends[0] * next[2], settles),
            on(priors.ends[1] * next[2], priors.stay[LONG] + long),
        ];
        for m in 0..MARKS {
            marks[m][i] = add_minor(on[m], ended);
        }
        for k in 0..RUNS {
            runs[k][i] = add_minor(run.goes_on + follows[k][i], run.apart + marks[AFTER[k]][i]);
        }
        off[i] = add_minor(off[i + 1] + stay_off, priors.on + on[SHORT]);
    }
    Backward {
        off,
        marks,
        runs,
        start,
        follows,
    }
}

/// Every path crosses the window's begin once: as the line being off or as one arrival.
fn evidence(carry: &Carry, backward: &Backward, points: usize) -> f32 {
    let mut terms = vec![carry.off + backward.off[0]];
    let arrivals = carry.marks.iter().chain(&carry.runs).chain([&carry.starts]);
    let later = backward
        .marks
        .iter()
        .chain(&backward.runs)
        .chain([&backward.start]);
    for (arrivals, later) in arrivals.zip(later) {
        terms.extend(arrivals.iter().zip(later).take(points).map(|(a, b)| a + b));
    }
    sum(&terms)
}

impl Framed {
    /// Takes readings down by the probability that the line was off while they were heard,
    /// and drops those that are then less likely than not.
    pub fn withhold_where_off(&self, readings: &mut Vec<Reading>, steps: usize) {
        for reading in readings.iter_mut() {
            let from = (reading.start.max(0.0) as usize).min(self.off.len() - 1);
            let to = (from + CHARACTER * steps).min(self.off.len());
            let off = self.off[from..to].iter().sum::<f32>() / (to - from) as f32;
            reading.present *= 1.0 - off;
        }
        readings.retain(|r| r.present >= 0.5);
    }

    /// What is known of the line at grid point `cut`, for a window that begins there.
    pub fn carry(&self, elements: &Elements, priors: &LinePriors, cut: usize) -> Carry {
        let steps = self.forward.steps;
        let length = (CHARACTER + 1) * steps + 1;
        let mut marks = [0, 1, 2, 3].map(|_| vec![NEVER; length]);
        let mut runs = [0, 1].map(|_| vec![NEVER; length]);
        let mut starts = vec![NEVER; steps];
        let run = Run::new(priors);
        let arrive = |list: &mut Vec<f32>, at: usize, ln: f32| {
            if let Some(to) = at.checked_sub(cut).and_then(|at| list.get_mut(at)) {
                *to = add(*to, ln);
            }
        };
        for i in cut.saturating_sub(length)..cut {
            let end = i + CHARACTER * steps;
            let ends = self.forward.start[i] + self.character[i];
            arrive(&mut marks[0], end, ends + run.open);
            let second = elements.mark.get(end).copied().unwrap_or(0.0);
            for (k, more) in [0.0, second].into_iter().enumerate() {
                let end = end + k * steps;
                let follows = self.forward.runs[k][i] + run.goes_on + self.character[i] + more;
                let begins = ends + priors.runs[k] + more;
                arrive(&mut runs[k], end - 1, follows + run.off_time);
                arrive(&mut runs[k], end, add(follows + run.on_time, begins));
                arrive(&mut runs[k], end + 1, follows + run.off_time);
            }
        }
        for i in cut.saturating_sub(steps)..cut {
            let state = [0, 1, 2, 3].map(|m| self.forward.marks[m][i]);
            let stay = [0, 1, 2, 3].map(|m| state[m] + priors.stay[m] + elements.mark[i]);
            let settles = state[SHORT] + priors.settle + elements.mark[i];
            let to = i + steps - cut;
            marks[1][to] = add(marks[1][to], stay[0]);
            marks[SHORT][to] = add(marks[SHORT][to], add(stay[1], stay[SHORT]));
            marks[LONG][to] = add(marks[LONG][to], add(settles, stay[LONG]));
            for r in cut - i..steps {
                let part = elements.part[i * steps + r];
                let ends = [1.0, 1.0, priors.ends[0], priors.ends[1]];
                let arrivals = [0, 1, 2, 3].map(|m| {
                    let next = ends[m] * priors.next[m.min(WAYS - 1)][r];
                    state[m] + ln_fast(next) + part
                });
                let to = i + r - cut;
                starts[to] = add(starts[to], sum(&arrivals));
            }
        }
        Carry {
            off: self.forward.off[cut],
            marks,
            runs,
            starts,
        }
        .normalised()
    }
}

impl Carry {
    /// Log of all that arrives.
    fn total(&self) -> f32 {
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        lists.fold(self.off, |total, list| add(total, sum(list)))
    }

    /// The same before any of the window's elements were heard: what arrives later has been
    /// through them, each taken for either tone.
    fn total_at_begin(&self, elements: &Elements) -> f32 {
        let steps = elements.steps;
        let element = |k: usize| match elements.mark.get(k * steps) {
            Some(mark) => add(*mark, elements.space[k * steps]) - std::f32::consts::LN_2,
            None => 0.0,
        };
        let whole: Vec<f32> = (0..CHARACTER + 3).map(element).collect();
        let before = |i: usize| {
            let (k, part) = (i / steps, (i % steps) as f32 / steps as f32);
            whole[..k].iter().sum::<f32>() + part * whole[k]
        };
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        lists.fold(self.off, |total, list| {
            let earlier = list.iter().enumerate().map(|(i, ln)| ln - before(i));
            add(total, sum(&earlier.collect::<Vec<f32>>()))
        })
    }

    /// Largest value zero, so that numbers do not grow with the length of a recording.
    fn normalised(mut self) -> Self {
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        let highest = lists.flatten().fold(self.off, |a, &b| a.max(b));
        self.off -= highest;
        let lists = self.marks.iter_mut();
        for list in lists.chain(&mut self.runs).chain([&mut self.starts]) {
            list.iter_mut().for_each(|v| *v = (*v - highest).max(NEVER));
        }
        self
    }
}
