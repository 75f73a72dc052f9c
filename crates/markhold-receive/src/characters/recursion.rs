//! The forward and the backward recursion of framing: sums over every path of the line.
//!
//! Of what leads to each point, and of what follows it; [`super::framing`] makes
//! probabilities of both.

use pulp::{Arch, Simd, WithSimd};

use super::carry::Carry;
use super::priors::{AFTER, CHARACTER, LONG, LinePriors, MARKS, RUNS, Run, SHORT, WAYS};
use crate::elements::Elements;
use crate::sums::log_sum::{NEVER, add, add_minor, exp_fast, ln_fast, sum};
use crate::sums::vectors;

/// What both recursions run over.
pub(super) struct Line<'a> {
    elements: &'a Elements,
    /// Weight of a character that begins at each point.
    pub(super) character: Vec<f32>,
    priors: &'a LinePriors,
}

impl<'a> Line<'a> {
    pub(super) fn new(elements: &'a Elements, priors: &'a LinePriors) -> Self {
        Self {
            elements,
            character: character_weights(elements),
            priors,
        }
    }

    /// Log likelihood of all that leads to each point.
    pub(super) fn forward(&self, carry: &Carry) -> Forward {
        Arch::new().dispatch(ForwardOf(self, carry))
    }

    /// Log likelihood of all that follows each point.
    pub(super) fn backward(&self) -> Backward {
        Arch::new().dispatch(BackwardOf(self))
    }
}

struct ForwardOf<'a>(&'a Line<'a>, &'a Carry);

impl WithSimd for ForwardOf<'_> {
    type Output = Forward;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Forward {
        let line = self.0;
        forward(simd, line.elements, &line.character, line.priors, self.1)
    }
}

struct BackwardOf<'a>(&'a Line<'a>);

impl WithSimd for BackwardOf<'_> {
    type Output = Backward;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Backward {
        let line = self.0;
        backward(simd, line.elements, &line.character, line.priors)
    }
}

#[derive(Clone, Debug)]
pub(super) struct Forward {
    pub(super) off: Vec<f32>,
    pub(super) marks: [Vec<f32>; MARKS],
    /// A run of each kind goes on.
    pub(super) runs: [Vec<f32>; RUNS],
    /// Starts after a stop of any length.
    pub(super) start: Vec<f32>,
    /// Grid points to the element.
    pub(super) steps: usize,
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

pub(super) struct Backward {
    pub(super) off: Vec<f32>,
    pub(super) marks: [Vec<f32>; MARKS],
    pub(super) runs: [Vec<f32>; RUNS],
    pub(super) start: Vec<f32>,
    /// Given that a character begins there within a run of each kind.
    pub(super) follows: [Vec<f32>; RUNS],
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
        let mut next = [0.0; WAYS];
        for (next, prior) in next.iter_mut().zip(&priors.next) {
            *next = vectors::dot(simd, prior, &weights);
        }
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
pub(super) fn evidence(carry: &Carry, backward: &Backward, points: usize) -> f32 {
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
