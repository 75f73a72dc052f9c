//! The lattice: candidate starts, and what may lie between them.
//!
//! Framing gave a probability to every start. The few starts that have any are looked at
//! again, under sender models that cost more than framing could pay for each grid point.

use crate::characters::priors::{EARLY, LinePriors};
use crate::sums::log_sum::NEVER;

/// Elements from the begin of a character to the end of its first whole stop unit.
pub const CHARACTER: f64 = 7.0;
/// Least probability of a start to be looked at again.
const LEAST: f32 = 3e-3;
/// Most candidates within one element.
const CROWD: usize = 5;
/// Probability that some character lies between two starts above which no line is drawn
/// past it.
const BETWEEN: f32 = 0.99;
/// Most lines that are drawn to one start, the likeliest.
const MOST_EDGES: usize = 10;
/// How far, in log weight, a line may lie behind the likeliest to the same start.
const HOPELESS: f32 = 10.0;
/// Log prior of a walk that begins at a start whose past the window does not hold: one of
/// all grid points of a character.
const ENTRY: f32 = -4.8;
/// Log prior of a signal that begins or ends within the window.
const SWITCHED: f32 = -13.0;

/// A line drawn from the end of one character's first stop unit to the next start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Candidate that ends; `None` for the window's begin.
    pub from: Option<usize>,
    /// Candidate that begins.
    pub to: usize,
    /// Log prior of the time between.
    pub ln: f32,
}

/// Candidates and edges of one window.
#[derive(Clone, Debug, Default)]
pub struct Lattice {
    /// Starts, grid points from the window's begin, in order.
    pub starts: Vec<f64>,
    /// Edges in order of `to`, then `from`.
    pub edges: Vec<Edge>,
    /// Log prior of beginning with each candidate.
    pub entry: Vec<f32>,
    /// Log prior of ending with each candidate by staying at mark until the window's end,
    /// or because the window ends within the character.
    pub exit: Vec<f32>,
    /// Log prior that the signal is switched off after a candidate.
    pub off: f32,
}

impl Lattice {
    /// The lattice of a window of `points` grid points from the probability of a start at
    /// each.
    pub fn new(start: &[f32], priors: &LinePriors, steps: usize) -> Self {
        let chosen = choose(start, steps);
        let starts: Vec<f64> = chosen.iter().map(|&i| i as f64).collect();
        let gaps = Gaps { priors, steps };
        let reach = CHARACTER * steps as f64;
        let entry = |&u: &f64| {
            if u < reach + steps as f64 {
                ENTRY
            } else {
                SWITCHED
            }
        };
        let mass = Mass::new(start, steps);
        let exit = |&u: &usize| {
            let end = u + 7 * steps;
            match start.len().checked_sub(end) {
                None | Some(0) => 0.0,
                Some(_) if mass.between(u + steps / 2, start.len()) > BETWEEN => NEVER,
                Some(rest) => gaps.ln_longer(rest),
            }
        };
        Self {
            exit: chosen.iter().map(exit).collect(),
            edges: edges(&chosen, start, &mass, &gaps),
            entry: starts.iter().map(entry).collect(),
            off: SWITCHED,
            starts,
        }
    }
}

/// Grid points that stand out: probable enough, and among the best of their element.
fn choose(start: &[f32], steps: usize) -> Vec<usize> {
    let stands_out = |i: usize| {
        let near = &start[i.saturating_sub(steps / 2)..(i + steps / 2 + 1).min(start.len())];
        start[i] > LEAST && near.iter().filter(|&&p| p > start[i]).count() < CROWD
    };
    (0..start.len()).filter(|&i| stands_out(i)).collect()
}

struct Gaps<'a> {
    priors: &'a LinePriors,
    steps: usize,
}

impl Gaps<'_> {
    /// Log probability that a start at `to` is the next one after a first whole unit of stop that
    /// ends at `end`: there or later, or a grid point early where stops are of one unit, as framing
    /// has it.
    fn ln_between(&self, end: usize, to: usize) -> Option<f32> {
        match to.checked_sub(end) {
            Some(gap) => Some(self.ln_at(gap)),
            None => (to + 1 == end).then(|| self.ln_at(0) + EARLY.ln()),
        }
    }

    /// Log probability that the next start comes `gap` grid points after the first whole
    /// unit of stop.
    fn ln_at(&self, gap: usize) -> f32 {
        let (whole, rest) = (gap / self.steps, gap % self.steps);
        let state = self.priors.after_stop(whole);
        ln(self.priors.begins(state, rest))
    }

    /// Log probability that the next start comes at `gap` or later.
    fn ln_longer(&self, gap: usize) -> f32 {
        let (whole, rest) = (gap / self.steps, gap % self.steps);
        let state = self.priors.after_stop(whole);
        let later = (rest..self.steps).map(|r| self.priors.begins(state, r));
        ln(later.sum::<f32>() + self.priors.stays(state))
    }

    /// The same as [`Gaps::ln_at`] after a mark whose begin the window does not hold.
    fn ln_idle(&self, gap: usize) -> f32 {
        let (whole, rest) = (gap / self.steps, gap % self.steps);
        let state = self.priors.after_pause([0.5; 2], whole);
        ln(self.priors.begins(state, rest))
    }
}

fn ln(probability: f32) -> f32 {
    probability.max(1e-12).ln()
}

/// Probability of starts up to each grid point, added up.
struct Mass {
    steps: usize,
    sums: Vec<f32>,
}

impl Mass {
    fn new(start: &[f32], steps: usize) -> Self {
        let mut sums = vec![0.0f32; start.len() + 1];
        for (i, p) in start.iter().enumerate() {
            sums[i + 1] = sums[i] + p;
        }
        Self { steps, sums }
    }

    /// Expected number of starts after `from` and before `to`, neither of which they are.
    fn between(&self, from: usize, to: usize) -> f32 {
        let to = to.saturating_sub(self.steps / 2);
        if to > from {
            self.sums[to] - self.sums[from.min(to)]
        } else {
            0.0
        }
    }
}

fn edges(chosen: &[usize], start: &[f32], mass: &Mass, gaps: &Gaps) -> Vec<Edge> {
    let steps = gaps.steps;
    let mut edges = Vec::new();
    for (to, &u) in chosen.iter().enumerate() {
        if mass.between(0, u) < BETWEEN {
            edges.push(Edge {
                from: None,
                to,
                ln: ENTRY + gaps.ln_idle(u),
            });
        }
        let first = edges.len();
        for (from, &v) in chosen[..to].iter().enumerate() {
            if let Some(ln) = gaps.ln_between(v + 7 * steps, u)
                && mass.between(v + steps / 2 + 1, u) < BETWEEN
            {
                edges.push(Edge {
                    from: Some(from),
                    to,
                    ln,
                });
            }
        }
        let weight = |e: &Edge| e.ln + e.from.map_or(0.0, |v| start[chosen[v]].ln());
        let best = edges[first..].iter().fold(NEVER, |a, e| a.max(weight(e)));
        let mut many = edges.split_off(first);
        many.retain(|e| weight(e) > best - HOPELESS);
        if many.len() > MOST_EDGES {
            many.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
            many.truncate(MOST_EDGES);
            many.sort_by_key(|e| e.from);
        }
        edges.extend(many);
    }
    edges
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEPS: usize = 16;

    fn lattice(likely: &[(usize, f32)], points: usize) -> Lattice {
        let mut start = vec![0.0; points];
        for &(i, p) in likely {
            start[i] = p;
        }
        Lattice::new(&start, &LinePriors::unknown(STEPS), STEPS)
    }

    fn drawn(lattice: &Lattice, from: Option<f64>, to: f64) -> bool {
        lattice.edges.iter().any(|e| {
            let begin = e.from.map(|c| lattice.starts[c]);
            begin == from && lattice.starts[e.to] == to
        })
    }

    #[test]
    fn draws_lines_between_characters_but_none_past_a_certain_one() {
        let found = lattice(
            &[(10, 0.9), (11, 0.1), (130, 1.0), (250, 0.4), (251, 0.6)],
            600,
        );
        assert_eq!(found.starts, [10.0, 11.0, 130.0, 250.0, 251.0]);
        assert!(drawn(&found, None, 10.0));
        assert!(drawn(&found, Some(11.0), 130.0));
        assert!(drawn(&found, Some(130.0), 250.0));
        assert!(
            !drawn(&found, Some(10.0), 250.0),
            "past a certain character"
        );
        assert!(!drawn(&found, Some(10.0), 11.0), "closer than a character");
        assert!(found.exit[2] <= NEVER && found.exit[3] > NEVER);
    }

    /// What an error of the rate adds up to now and then, where stops are of one unit.
    #[test]
    fn a_character_may_begin_a_grid_point_early() {
        let found = lattice(&[(10, 1.0), (121, 1.0), (231, 1.0)], 600);
        assert!(drawn(&found, Some(10.0), 121.0));
        assert!(!drawn(&found, Some(121.0), 231.0), "two points");
    }

    #[test]
    fn keeps_a_line_past_a_doubtful_character() {
        let found = lattice(&[(10, 1.0), (130, 0.5), (250, 1.0)], 600);
        assert!(drawn(&found, Some(10.0), 250.0));
    }

    #[test]
    fn gaps_are_a_distribution() {
        let priors = LinePriors::unknown(STEPS);
        let gaps = Gaps {
            priors: &priors,
            steps: STEPS,
        };
        for from in [0usize, 5, 16, 30, 40, 70] {
            let within: f32 = (from..from + 48).map(|g| gaps.ln_at(g).exp()).sum();
            let beyond = gaps.ln_longer(from + 48).exp();
            let all = gaps.ln_longer(from).exp();
            assert!(
                (within + beyond - all).abs() < 1e-3,
                "from {from}: {within} + {beyond} instead of {all}"
            );
        }
    }
}
