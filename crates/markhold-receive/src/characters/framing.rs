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
//! ```
//!
//! After the stop element's first whole unit the line stays at mark for any time. It is
//! weighed in whole elements and one exact remainder, never in smaller pieces: a long mark
//! cut into crumbs would pay for an unknown phase at each and lose against characters of
//! noise. `off` is the line without a signal. All sums run over every path (the forward
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
/// in the second's, later.
const MARKS: usize = 3;

/// How likely the line's next steps are; natural logarithms where not said otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct LinePriors {
    /// `next[m][r]`: from mark state `m`, the next character begins after `r` steps; a
    /// plain probability, for these are summed.
    pub next: [Vec<f32>; MARKS],
    /// From mark state `m`, at least one whole element more of mark follows.
    pub stay: [f32; MARKS],
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
        // Characters of somebody typing, after a pause: one in about ten elements.
        let typed = 0.1f32;
        let some = |s: &f32| s.max(1e-9);
        Self {
            next: [
                share[..steps].iter().map(some).collect(),
                second.iter().map(some).collect(),
                vec![typed / steps as f32; steps],
            ],
            stay: [stays_first.ln(), stays_second.ln(), (1.0 - typed).ln()],
            on: (1e-4f32 / steps as f32).ln(),
            off: 1e-6f32.ln(),
        }
    }
}

impl LinePriors {
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
    /// Arrivals of starts at the first points of the window.
    starts: Vec<f32>,
}

impl Carry {
    /// Nothing known, most likely no signal yet.
    pub fn nothing() -> Self {
        Self {
            off: 0.0,
            marks: [vec![], vec![NEVER], vec![-8.0]],
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
    forward: Forward,
    /// Weight of a character from each grid point, kept for the carry.
    character: Vec<f32>,
}

#[derive(Clone, Debug)]
struct Forward {
    off: Vec<f32>,
    marks: [Vec<f32>; MARKS],
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
    let posterior = |f: &[f32], b: &[f32]| -> Vec<f32> {
        (0..points)
            .map(|i| exp_fast((f[i] + b[i] - evidence).min(0.0)))
            .collect()
    };
    Framed {
        start: posterior(&forward.start, &backward.start),
        off: posterior(&forward.off, &backward.off),
        evidence: evidence - carry.total(),
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
    let mut marks = [0, 1, 2].map(|m| with_arrivals(&carry.marks[m], reach));
    let mut start = with_arrivals(&carry.starts, points);
    let mut off = vec![NEVER; points + 1];
    off[0] = carry.off;
    let stay_off = priors.stay_off();
    let mut sums = MarkSums::new(points, steps);
    for i in 0..points {
        let ended = sum(&[marks[0][i], marks[1][i], marks[2][i]]) + priors.off;
        marks[2][i] = add_minor(marks[2][i], off[i] + priors.on);
        sums.take(i, [marks[0][i], marks[1][i], marks[2][i]]);
        start[i] = add_minor(start[i], sums.next_starts(simd, i, elements, priors));
        let arrival = &mut marks[0][i + CHARACTER * steps];
        *arrival = add_minor(*arrival, start[i] + character[i]);
        let stay = [0, 1, 2].map(|m| marks[m][i] + priors.stay[m] + elements.mark[i]);
        marks[1][i + steps] = add_minor(marks[1][i + steps], stay[0]);
        marks[2][i + steps] = add_minor(marks[2][i + steps], add(stay[1], stay[2]));
        off[i + 1] = add_minor(off[i] + stay_off, ended);
    }
    Forward {
        off,
        marks,
        start,
        steps,
    }
}

/// The mark states of all points so far, as a common exponent and a plain share each, so
/// that the many ways to the next start are sums of products. Lists are in reverse order
/// of time in a window that slides through a longer buffer: index `r` is `r` steps back.
struct MarkSums {
    highest: Vec<f32>,
    shares: [Vec<f32>; MARKS],
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
    fn take(&mut self, i: usize, marks: [f32; MARKS]) {
        let highest = marks[0].max(marks[1]).max(marks[2]);
        let at = self.end - i;
        self.highest[at] = highest;
        for (share, mark) in self.shares.iter_mut().zip(marks) {
            share[at] = exp_fast(mark - highest);
        }
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
    start: Vec<f32>,
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
    let mut off = vec![0.0; points + 1];
    let mut start = vec![0.0; points + steps];
    let mut marks = [0, 1, 2].map(|_| vec![0.0f32; points + CHARACTER * steps + 1]);
    let mut weights = vec![0.0; steps];
    for i in (0..points).rev() {
        start[i] = character[i] + marks[0][i + CHARACTER * steps];
        let ended = priors.off + off[i + 1];
        let part = &elements.part[i * steps..(i + 1) * steps];
        let later = &start[i..i + steps];
        let highest = vectors::exps_of_sums(simd, part, later, &mut weights);
        let mut on = [0.0; MARKS];
        for (m, on) in on.iter_mut().enumerate() {
            let next = vectors::dot(simd, &priors.next[m], &weights);
            let stays = priors.stay[m] + elements.mark[i] + marks[(m + 1).min(2)][i + steps];
            let top = highest.max(stays);
            let sum = next * exp_fast(highest - top) + exp_fast(stays - top);
            *on = top + ln_fast(sum.max(f32::MIN_POSITIVE));
        }
        for m in 0..MARKS {
            marks[m][i] = add_minor(on[m], ended);
        }
        off[i] = add_minor(off[i + 1] + stay_off, priors.on + on[2]);
    }
    Backward { off, marks, start }
}

/// Every path crosses the window's begin once: as the line being off or as one arrival.
fn evidence(carry: &Carry, backward: &Backward, points: usize) -> f32 {
    let mut terms = vec![carry.off + backward.off[0]];
    for (arrivals, later) in carry.marks.iter().zip(&backward.marks) {
        terms.extend(arrivals.iter().zip(later).take(points).map(|(a, b)| a + b));
    }
    terms.extend(
        carry
            .starts
            .iter()
            .zip(&backward.start)
            .take(points)
            .map(|(a, b)| a + b),
    );
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
        let mut marks = [0, 1, 2].map(|_| vec![NEVER; CHARACTER * steps]);
        let mut starts = vec![NEVER; steps];
        for (i, start) in self
            .forward
            .start
            .iter()
            .enumerate()
            .take(cut)
            .skip(cut.saturating_sub(CHARACTER * steps))
        {
            let arrival = i + CHARACTER * steps;
            if arrival >= cut && arrival - cut < CHARACTER * steps {
                marks[0][arrival - cut] = start + self.character[i];
            }
        }
        for i in cut.saturating_sub(steps)..cut {
            let state = [0, 1, 2].map(|m| self.forward.marks[m][i]);
            let stay = [0, 1, 2].map(|m| state[m] + priors.stay[m] + elements.mark[i]);
            let to = i + steps - cut;
            marks[1][to] = add(marks[1][to], stay[0]);
            marks[2][to] = add(marks[2][to], add(stay[1], stay[2]));
            for r in cut - i..steps {
                let part = elements.part[i * steps + r];
                let arrivals = [0, 1, 2].map(|m| state[m] + ln_fast(priors.next[m][r]) + part);
                let to = i + r - cut;
                starts[to] = add(starts[to], sum(&arrivals));
            }
        }
        Carry {
            off: self.forward.off[cut],
            marks,
            starts,
        }
        .normalised()
    }
}

impl Carry {
    /// Log of all that arrives.
    fn total(&self) -> f32 {
        let lists = self.marks.iter().chain([&self.starts]);
        lists.fold(self.off, |total, list| add(total, sum(list)))
    }

    /// Largest value zero, so that numbers do not grow with the length of a recording.
    fn normalised(mut self) -> Self {
        let lists = self.marks.iter().chain([&self.starts]);
        let highest = lists.flatten().fold(self.off, |a, &b| a.max(b));
        self.off -= highest;
        for list in self.marks.iter_mut().chain([&mut self.starts]) {
            list.iter_mut().for_each(|v| *v = (*v - highest).max(NEVER));
        }
        self
    }
}
