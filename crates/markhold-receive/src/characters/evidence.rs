//! The evidence of a window alone: the backward recursion by plain numbers.
//!
//! The search asks for nothing else, for hundreds of lines a second. So no state is kept for later,
//! and nothing is a logarithm: sums are of plain numbers in a unit that is chosen anew with every
//! element. Where they do not reach, [`super::recursion`] does.

use pulp::{Arch, Simd, WithSimd};

use super::carry::Carry;
use super::priors::{AFTER, CHARACTER, LONG, LinePriors, MARKS, RUNS, Run, SHORT, WAYS};
use crate::elements::Elements;
use crate::sums::log_sum::exp_wide;

/// Log likelihood ratio of a window of which nothing is known before it, against noise alone;
/// `None` where a plain number is too small or too large for it: an element of over a hundred nats.
pub(super) fn evidence(elements: &Elements, priors: &LinePriors) -> Option<f32> {
    let found = Arch::new().dispatch(Walk { elements, priors });
    found.is_finite().then_some(found as f32)
}

struct Walk<'a> {
    elements: &'a Elements,
    priors: &'a LinePriors,
}

impl WithSimd for Walk<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> f64 {
        walk(self.elements, self.priors)
    }
}

/// What all that follows weighs at each grid point, by the state there, in a common unit. Only what
/// the next points ask for is in it.
struct Later {
    off: Vec<f64>,
    marks: [Vec<f64>; MARKS],
    runs: [Vec<f64>; RUNS],
    start: Vec<f64>,
}

impl Later {
    /// Past the window's end nothing is known, which is the same for all.
    fn new(points: usize, reach: usize) -> Self {
        let list = || vec![1.0; points + reach];
        Self {
            off: list(),
            marks: [list(), list(), list(), list()],
            runs: [list(), list()],
            start: list(),
        }
    }

    /// Makes the greatest of what was found last the unit; how large that was, natural logarithm.
    #[inline(always)]
    fn rescale(&mut self, from: usize, steps: usize, reach: usize) -> f64 {
        let mut most = self.off[from];
        for list in self.marks.iter().chain([&self.start]) {
            for x in &list[from..from + steps] {
                most = most.max(*x);
            }
        }
        let by = most.recip();
        let lists = self.marks.iter_mut().chain(&mut self.runs);
        for list in lists.chain([&mut self.off, &mut self.start]) {
            for x in &mut list[from..from + reach] {
                *x *= by;
            }
        }
        most.ln()
    }
}

/// Priors as plain numbers.
struct Plain {
    next: [Vec<f64>; WAYS],
    ends: [f64; 2],
    stay: [f64; MARKS],
    settle: f64,
    runs: [f64; RUNS],
    on: f64,
    off: f64,
    stay_off: f64,
    goes_on: f64,
    apart: f64,
    on_time: f64,
    off_time: f64,
    open: f64,
}

impl Plain {
    fn new(priors: &LinePriors) -> Self {
        let run = Run::new(priors);
        let exp = |ln: f32| f64::from(ln).exp();
        Self {
            next: [0, 1, 2].map(|w| priors.next[w].iter().map(|x| f64::from(*x)).collect()),
            ends: priors.ends.map(f64::from),
            stay: priors.stay.map(exp),
            settle: exp(priors.settle),
            runs: priors.runs.map(exp),
            on: exp(priors.on),
            off: exp(priors.off),
            stay_off: exp(priors.stay_off()),
            goes_on: exp(run.goes_on),
            apart: exp(run.apart),
            on_time: exp(run.on_time),
            off_time: exp(run.off_time),
            open: exp(run.open),
        }
    }
}

#[inline(always)]
fn walk(elements: &Elements, priors: &LinePriors) -> f64 {
    let (points, steps) = (elements.points(), elements.steps);
    let prior = Plain::new(priors);
    let reach = (CHARACTER + 1) * steps + 2;
    let mark = exps(&elements.mark, reach);
    let character = characters(elements, &mark, reach);
    let mut later = Later::new(points, reach);
    let mut weights = vec![0.0; steps];
    let mut unit_ln = 0.0;
    for i in (0..points).rev() {
        if i % steps == 0 {
            unit_ln += later.rescale(i + 1, steps, reach - 1);
        }
        let end = i + CHARACTER * steps;
        let mut then = prior.open * later.marks[0][end];
        let mut follows = [0.0; RUNS];
        let mut more = 1.0;
        for (k, follows) in follows.iter_mut().enumerate() {
            let (list, end) = (&later.runs[k], end + k * steps);
            let around = prior.off_time * (list[end - 1] + list[end + 1]);
            *follows = character[i] * more * (prior.on_time * list[end] + around);
            then += prior.runs[k] * more * list[end];
            more = mark[i + CHARACTER * steps];
        }
        later.start[i] = character[i] * then;
        part_exps(&elements.part[i * steps..(i + 1) * steps], &mut weights);
        for (weight, start) in weights.iter_mut().zip(&later.start[i..i + steps]) {
            *weight *= start;
        }
        let mut next = [0.0; WAYS];
        for (next, prior) in next.iter_mut().zip(&prior.next) {
            *next = dot(prior, &weights);
        }
        let ended = prior.off * later.off[i + 1];
        let [second, short, long] = [
            later.marks[1][i + steps] * mark[i],
            later.marks[SHORT][i + steps] * mark[i],
            later.marks[LONG][i + steps] * mark[i],
        ];
        let settles = prior.stay[SHORT] * short + prior.settle * long;
        let on = [
            next[0] + prior.stay[0] * second,
            next[1] + prior.stay[1] * short,
            prior.ends[0] * next[2] + settles,
            prior.ends[1] * next[2] + prior.stay[LONG] * long,
        ];
        for (marks, on) in later.marks.iter_mut().zip(on) {
            marks[i] = on + ended;
        }
        for (k, follows) in follows.into_iter().enumerate() {
            let apart = prior.apart * later.marks[AFTER[k]][i];
            later.runs[k][i] = prior.goes_on * follows + apart;
        }
        later.off[i] = later.off[i + 1] * prior.stay_off + prior.on * on[SHORT];
    }
    let carry = Carry::nothing();
    let at = |list: &[f32], later: f64| list.first().map_or(0.0, |ln| f64::from(*ln).exp() * later);
    let total = (0..MARKS).fold(f64::from(carry.off).exp() * later.off[0], |total, m| {
        total + at(&carry.marks[m], later.marks[m][0])
    });
    total.ln() + unit_ln - f64::from(carry.total())
}

/// Weight of a character that begins at each point, as in [`super::recursion`].
#[inline(always)]
fn characters(elements: &Elements, mark: &[f64], reach: usize) -> Vec<f64> {
    let (points, steps) = (elements.points(), elements.steps);
    let space = exps(&elements.space, reach);
    let mut either = vec![1.0; points + reach];
    for (either, (mark, space)) in either.iter_mut().zip(mark.iter().zip(&space)) {
        *either = 0.5 * (mark + space);
    }
    let mut all = vec![0.0; points];
    for (i, weight) in all.iter_mut().enumerate() {
        *weight = space[i] * mark[i + (CHARACTER - 1) * steps];
        for k in 1..CHARACTER - 1 {
            *weight *= either[i + k * steps];
        }
    }
    all
}

/// Exponentials of a list, and 1 for `more` after its end.
#[inline(always)]
fn exps(list: &[f32], more: usize) -> Vec<f64> {
    let mut all = vec![1.0; list.len() + more];
    part_exps(list, &mut all[..list.len()]);
    all
}

/// Exponentials of a list.
#[inline(always)]
fn part_exps(list: &[f32], out: &mut [f64]) {
    for (out, x) in out.iter_mut().zip(list) {
        *out = exp_wide(*x);
    }
}

/// Sum of products, four at a time.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let mut sums = [0.0; 4];
    for (a, b) in a.iter().zip(b) {
        for k in 0..4 {
            sums[k] += a[k] * b[k];
        }
    }
    let mut rest = 0.0;
    for (a, b) in a_rest.iter().zip(b_rest) {
        rest += a * b;
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{evidence_by_logarithms, frame};
    use crate::pair::testing::Random;

    /// Elements of random strength, some lines of random characters, some of noise.
    fn elements(steps: usize, worth: f32, random: &mut Random) -> Elements {
        let points = 40 * steps;
        let mut tone = |sign: f32| -> Vec<f32> {
            let mut level = 0.0;
            (0..points)
                .map(|i| {
                    if i % steps == 0 {
                        level = if random.uniform() < 0.5 { sign } else { -sign };
                    }
                    worth * (level + 0.3 * random.uniform() as f32 - 0.15)
                })
                .collect()
        };
        let (mark, space) = (tone(1.0), tone(-1.0));
        let share = |k: usize| (k % steps) as f32 / steps as f32;
        let part = (0..points * steps).map(|k| mark[k / steps] * share(k));
        Elements {
            steps,
            part: part.collect(),
            mark,
            space,
        }
    }

    #[test]
    fn plain_numbers_sum_what_logarithms_sum() {
        for seed in 1..9 {
            let mut random = Random::new(seed);
            for steps in [4, 8, 16] {
                let priors = LinePriors::unknown(steps);
                for worth in [0.0, 0.4, 3.0, 12.0, 40.0, 75.0] {
                    let elements = elements(steps, worth, &mut random);
                    let slow = evidence_by_logarithms(&elements, &priors);
                    let fast = evidence(&elements, &priors).expect("within reach");
                    let near = 0.02 + 2e-4 * slow.abs();
                    assert!(
                        (fast - slow).abs() < near,
                        "{steps} {worth}: {fast}, {slow}"
                    );
                    let framed = frame(&elements, &priors, &Carry::nothing()).evidence;
                    assert!((framed - slow).abs() < 0.02 + 1e-4 * slow.abs());
                }
            }
        }
    }

    #[test]
    fn what_is_out_of_reach_is_told() {
        let elements = elements(8, 400.0, &mut Random::new(1));
        let priors = LinePriors::unknown(8);
        assert_eq!(evidence(&elements, &priors), None);
        let slow = evidence_by_logarithms(&elements, &priors);
        assert_eq!(super::super::framing::evidence_of(&elements, &priors), slow);
    }
}
