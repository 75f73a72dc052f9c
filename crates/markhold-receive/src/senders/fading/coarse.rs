//! Coarse lattices: neighbouring candidates taken for one start, at their mean.
//!
//! Grid points lie so close that two or three of them pass for the same start, each with
//! another phase of space: a sixteenth of an element turns it by 84 degrees at 170 Hz and
//! 45.45 baud. A walk of gains would follow each by itself. The mean of a start, weighed by
//! what an earlier walk made of the candidates, is known better than the grid is fine.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::senders::lattice::{Edge, Lattice};
use crate::senders::walk::Walked;
use crate::sums::log_sum::{NEVER, add};

/// How far from the likeliest candidate others are taken for the same start, grid points.
const HALF_WIDTH: f64 = 1.5;
/// Least probability with which a candidate weighs in the mean.
const LEAST_WEIGHT: f32 = 1e-12;
/// Least share of a group with which a candidate's edges count.
const LEAST_SHARE: f32 = 1e-6;

/// A lattice with fewer candidates, and where the old ones went.
pub struct Coarse {
    /// The lattice; starts are fractional grid points.
    pub lattice: Lattice,
    /// Of each old candidate the new one and its share of it; `None` for those left out.
    places: Vec<Option<(usize, f32)>>,
}

/// Old candidates that become one, the likeliest first.
type Group = Vec<usize>;

impl Coarse {
    /// Takes together those candidates that are marked `true` in `some`, by the probability
    /// of each in an earlier walk.
    pub fn new(lattice: &Lattice, present: &[f32], some: &[bool]) -> Self {
        let groups = groups(&lattice.starts, present, some);
        let weight = |c: usize| present[c].max(LEAST_WEIGHT);
        let mut places = vec![None; present.len()];
        for (g, group) in groups.iter().enumerate() {
            let total: f32 = group.iter().map(|&c| weight(c)).sum();
            for &c in group {
                places[c] = Some((g, weight(c) / total));
            }
        }
        let mean = |group: &Group| {
            let parts = group
                .iter()
                .map(|&c| (f64::from(weight(c)), lattice.starts[c]));
            let (sum, total) = parts.fold((0.0, 0.0), |(s, t), (w, u)| (s + w * u, t + w));
            sum / total
        };
        let either = |group: &Group| group.iter().fold(NEVER, |a, &c| add(a, lattice.entry[c]));
        Self {
            lattice: Lattice {
                starts: groups.iter().map(mean).collect(),
                edges: edges(lattice, &places),
                entry: groups.iter().map(either).collect(),
                exit: groups.iter().map(|g| lattice.exit[g[0]]).collect(),
                off: lattice.off,
            },
            places,
        }
    }

    /// What a walk of the coarse lattice says of the old candidates.
    pub fn spread(&self, walked: &Walked) -> Walked {
        let count = self.places.len();
        let mut out = Walked {
            evidence: walked.evidence,
            present: vec![0.0; count],
            codes: vec![[1.0 / 32.0; 32]; count],
            phases: vec![Default::default(); count],
        };
        for (c, place) in self.places.iter().enumerate() {
            if let Some((g, share)) = *place {
                out.present[c] = walked.present[g] * share;
                out.codes[c] = walked.codes[g];
                out.phases[c] = walked.phases[g];
            }
        }
        out
    }
}

/// Groups in order of time. The likeliest candidate takes its neighbours first.
fn groups(starts: &[f64], present: &[f32], some: &[bool]) -> Vec<Group> {
    let mut order: Vec<usize> = (0..starts.len()).filter(|&c| some[c]).collect();
    order.sort_by(|&a, &b| present[b].total_cmp(&present[a]));
    let mut free = some.to_vec();
    let mut groups: Vec<Group> = Vec::new();
    for &c in &order {
        if !free[c] {
            continue;
        }
        let mut group: Group = near(starts, c).filter(|&j| free[j]).collect();
        group.sort_by(|&a, &b| present[b].total_cmp(&present[a]));
        group.iter().for_each(|&j| free[j] = false);
        groups.push(group);
    }
    // Groups do not overlap, so any member tells their order.
    groups.sort_by(|a, b| starts[a[0]].total_cmp(&starts[b[0]]));
    groups
}

fn near(starts: &[f64], c: usize) -> Range<usize> {
    let low = starts.partition_point(|&u| u < starts[c] - HALF_WIDTH);
    let high = starts.partition_point(|&u| u <= starts[c] + HALF_WIDTH);
    low..high
}

/// Edges between groups: those of their members together, of one that begins by its share.
fn edges(lattice: &Lattice, places: &[Option<(usize, f32)>]) -> Vec<Edge> {
    let mut sums: BTreeMap<(usize, Option<usize>), f32> = BTreeMap::new();
    for edge in &lattice.edges {
        let Some((to, _)) = places[edge.to] else {
            continue;
        };
        let (from, share) = match edge.from.map(|f| places[f]) {
            None => (None, 1.0),
            Some(None) => continue,
            Some(Some((from, share))) => (Some(from), share),
        };
        let sum = sums.entry((to, from)).or_insert(NEVER);
        *sum = add(*sum, edge.ln + share.max(LEAST_SHARE).ln());
    }
    let edge = |((to, from), ln)| Edge { from, to, ln };
    sums.into_iter().map(edge).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lattice() -> Lattice {
        let edge = |from, to| Edge { from, to, ln: -1.0 };
        Lattice {
            starts: vec![10.0, 11.0, 14.0, 130.0, 131.0],
            edges: vec![
                edge(None, 0),
                edge(Some(0), 3),
                edge(Some(1), 3),
                edge(Some(2), 3),
                edge(Some(1), 4),
            ],
            entry: vec![-2.0; 5],
            exit: vec![-1.0, -2.0, -3.0, -4.0, -5.0],
            off: NEVER,
        }
    }

    const PRESENT: [f32; 5] = [0.25, 0.75, 0.0, 0.6, 0.4];

    #[test]
    fn neighbours_become_one_start_at_their_mean() {
        let coarse = Coarse::new(&lattice(), &PRESENT, &[true; 5]);
        let starts = &coarse.lattice.starts;
        for (got, expected) in starts.iter().zip([10.75, 14.0, 130.4]) {
            assert!((got - expected).abs() < 1e-4, "{starts:?}");
        }
        assert_eq!(coarse.lattice.exit, [-2.0, -3.0, -4.0], "as the likeliest");
        let from_first: Vec<&Edge> = coarse.lattice.edges.iter().filter(|e| e.to == 2).collect();
        assert_eq!(from_first.len(), 2);
        // Both members lead to the first of the later ones, the second to the other as well.
        let expected = (-1.0f32).exp() * (0.25 + 0.75 + 0.75);
        let got = from_first
            .iter()
            .find(|e| e.from == Some(0))
            .unwrap()
            .ln
            .exp();
        assert!((got - expected).abs() < 1e-4, "{got}");
    }

    #[test]
    fn what_was_left_out_stays_out() {
        let coarse = Coarse::new(&lattice(), &PRESENT, &[true, true, false, true, false]);
        assert_eq!(coarse.lattice.starts.len(), 2);
        let walked = Walked {
            evidence: 1.0,
            present: vec![0.9, 0.8],
            codes: vec![[0.0; 32]; 2],
            phases: vec![Default::default(); 2],
        };
        let spread = coarse.spread(&walked);
        let expected = [0.225, 0.675, 0.0, 0.8, 0.0];
        for (got, expected) in spread.present.iter().zip(expected) {
            assert!((got - expected).abs() < 1e-5, "{:?}", spread.present);
        }
    }
}
