//! Masses: what share of all paths goes where.
//!
//! Components were merged and let go on either side of a place, so all paths through one
//! instant may weigh a little more or less than all through another. A character's
//! probability is its share of what passes at its own middle.

use crate::senders::lattice::{CHARACTER, Lattice};
use crate::sums::log_sum::{NEVER, add};

/// Log weights of all paths through each part of a lattice.
pub struct Masses {
    /// Through each candidate.
    pub characters: Vec<f32>,
    /// That begin with each candidate.
    pub entries: Vec<f32>,
    /// That end with each candidate.
    pub exits: Vec<f32>,
    /// Along each edge.
    pub edges: Vec<f32>,
}

impl Masses {
    /// Nothing passes anywhere yet.
    pub fn new(lattice: &Lattice) -> Self {
        let count = lattice.starts.len();
        Self {
            characters: vec![NEVER; count],
            entries: vec![NEVER; count],
            exits: vec![NEVER; count],
            edges: vec![NEVER; lattice.edges.len()],
        }
    }

    /// Probability of each candidate, and the least log weight of all paths that passes the
    /// middle of any; `steps` grid points to the element.
    pub fn present(&self, lattice: &Lattice, steps: f64) -> (Vec<f32>, f32) {
        let middle = |u: f64| u + 0.5 * CHARACTER * steps;
        let all = |&u: &f64| self.at(lattice, steps, middle(u));
        let all: Vec<f32> = lattice.starts.iter().map(all).collect();
        let shares = self.characters.iter().zip(&all);
        let present = shares.map(|(ln, all)| (ln - all).min(0.0).exp());
        let least = all.iter().fold(f32::INFINITY, |a, &b| a.min(b));
        (present.collect(), least)
    }

    /// Log weight of all paths at an instant, noise alone included.
    fn at(&self, lattice: &Lattice, steps: f64, at: f64) -> f32 {
        let starts = &lattice.starts;
        let end = |c: usize| starts[c] + CHARACTER * steps;
        let mut total = 0.0; // noise alone
        for (c, &start) in starts.iter().enumerate() {
            let passing = match (start > at, end(c) <= at) {
                (true, _) => self.entries[c],
                (_, true) => self.exits[c],
                _ => self.characters[c],
            };
            total = add(total, passing);
        }
        for (edge, ln) in lattice.edges.iter().zip(&self.edges) {
            if starts[edge.to] > at && edge.from.is_none_or(|f| end(f) <= at) {
                total = add(total, *ln);
            }
        }
        total
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::senders::lattice::Edge;

    /// Two characters, the second of which may be left out or stand elsewhere.
    #[test]
    fn a_probability_is_a_share_of_what_passes_then() {
        let lattice = Lattice {
            starts: vec![0.0, 12.0, 16.0],
            edges: [1, 2]
                .map(|to| Edge {
                    from: Some(0),
                    to,
                    ln: 0.0,
                })
                .to_vec(),
            entry: vec![0.0; 3],
            exit: vec![0.0; 3],
            off: 0.0,
        };
        let ln = |p: f32| 20.0 + p.ln();
        // All that comes after the first character lost a tenth of its weight.
        let masses = Masses {
            characters: vec![ln(1.0), ln(0.54), ln(0.27)],
            entries: vec![ln(1.0), NEVER, NEVER],
            exits: vec![ln(0.09), ln(0.54), ln(0.27)],
            edges: vec![ln(0.54), ln(0.27)],
        };
        let (present, least) = masses.present(&lattice, 1.0);
        assert!((least - ln(0.9)).abs() < 1e-4, "{least}");
        for (got, expected) in present.iter().zip([1.0, 0.6, 0.3]) {
            assert!((got - expected).abs() < 1e-4, "{present:?}");
        }
    }
}
