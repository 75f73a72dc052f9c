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

use super::evidence::evidence as plain;
use super::priors::{APART, CHARACTER, LONG, Run, SHORT, WAYS};
use super::recursion::{Forward, Line, evidence};
use crate::elements::Elements;
use crate::sums::log_sum::{NEVER, add, exp_fast, ln_fast, sum};

pub use super::carry::Carry;
pub use super::priors::LinePriors;

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

/// Frames a window: runs both recursions over all of its points.
pub fn frame(elements: &Elements, priors: &LinePriors, carry: &Carry) -> Framed {
    let line = Line::new(elements, priors);
    let (forward, backward) = (line.forward(carry), line.backward());
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
        character: line.character,
    }
}

/// The evidence alone, as in [`Framed::evidence`], of a window of which nothing is known before
/// it, for far less work.
pub fn evidence_of(elements: &Elements, priors: &LinePriors) -> f32 {
    plain(elements, priors).unwrap_or_else(|| evidence_by_logarithms(elements, priors))
}

/// The same by logarithms, which always reach.
pub(super) fn evidence_by_logarithms(elements: &Elements, priors: &LinePriors) -> f32 {
    let carry = Carry::nothing();
    let backward = Line::new(elements, priors).backward();
    evidence(&carry, &backward, elements.points()) - carry.total()
}

impl Framed {
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
