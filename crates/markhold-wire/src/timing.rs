//! How late edges are: the figures of a timed line.

use std::fmt;

/// Most that the 99.9th percentile may be late, as a part of an element: timing this good
/// leaves a machine all of its margin.
pub const LATE_LIMIT: f64 = 0.01;

/// Width of one cell of the count, s: far below what matters, 0.005 % of 22 ms.
const CELL_S: f64 = 1e-6;
/// Cells; what is later than 20 ms is counted in the last one.
const CELLS: usize = 20_000;

/// Counts how late edges were set.
#[derive(Clone)]
pub struct Timing {
    counts: Vec<u32>,
    edges: u64,
    most_s: f64,
}

impl Default for Timing {
    fn default() -> Self {
        Timing {
            counts: vec![0; CELLS],
            edges: 0,
            most_s: 0.0,
        }
    }
}

impl Timing {
    /// Counts an edge that was `late_s` late; early ones, below 0, count by their size.
    pub fn count(&mut self, late_s: f64) {
        let size = late_s.abs();
        let cell = (size / CELL_S) as usize;
        self.counts[cell.min(CELLS - 1)] += 1;
        self.edges += 1;
        self.most_s = self.most_s.max(size);
    }

    /// Adds what another has counted.
    pub fn add(&mut self, other: &Timing) {
        let pairs = self.counts.iter_mut().zip(&other.counts);
        pairs.for_each(|(mine, theirs)| *mine += theirs);
        self.edges += other.edges;
        self.most_s = self.most_s.max(other.most_s);
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.counts.fill(0);
        (self.edges, self.most_s) = (0, 0.0);
    }

    /// Edges counted.
    pub fn edges(&self) -> u64 {
        self.edges
    }

    /// The largest, s; 0 before the first edge.
    pub fn most_s(&self) -> f64 {
        self.most_s
    }

    /// The least time that this part of all edges (0 to 1) kept within, s, rounded up to
    /// a microsecond; 0 before the first edge.
    pub fn within_s(&self, part: f64) -> f64 {
        let wanted = (part * self.edges as f64).ceil() as u64;
        let mut sum = 0;
        for (cell, count) in self.counts.iter().enumerate() {
            sum += u64::from(*count);
            if sum >= wanted.max(1) {
                return (cell as f64 + 1.0).min(self.most_s / CELL_S) * CELL_S;
            }
        }
        self.most_s
    }

    /// Whether the 99.9th percentile keeps within [`LATE_LIMIT`] of this element, s.
    ///
    /// Fewer than a thousand edges say too little and are judged by the latest of them.
    pub fn is_good(&self, element_s: f64) -> bool {
        self.within_s(0.999) <= LATE_LIMIT * element_s
    }

    /// One line for the person: the figures and whether they will do.
    pub fn verdict(&self, element_s: f64) -> String {
        let limit_ms = LATE_LIMIT * element_s * 1e3;
        let advice = if self.is_good(element_s) {
            "this computer can key the line"
        } else {
            "this computer cannot key the line as it is: close busy programs, allow \
             real-time priority, or use tones and a terminal unit"
        };
        format!("{self}; 99.9 % may be {limit_ms:.3} ms late: {advice}")
    }
}

impl fmt::Display for Timing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ms = |part| self.within_s(part) * 1e3;
        write!(
            f,
            "{} edges, late by {:.3} ms (half of them), {:.3} ms (99 %), {:.3} ms (99.9 %), \
             {:.3} ms (all)",
            self.edges,
            ms(0.5),
            ms(0.99),
            ms(0.999),
            self.most_s * 1e3
        )
    }
}

impl fmt::Debug for Timing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Timing({self})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 to 1000 microseconds, each once: percentiles are known.
    #[test]
    fn percentiles_of_a_ramp() {
        let mut timing = Timing::default();
        (1..=1000)
            .rev()
            .for_each(|us| timing.count(f64::from(us) * 1e-6 - 1e-7));
        for (part, us) in [(0.5, 500.0), (0.99, 990.0), (0.999, 999.0)] {
            assert!((timing.within_s(part) * 1e6 - us).abs() < 1e-6, "{part}");
        }
        assert!((timing.most_s() * 1e6 - 999.9).abs() < 1e-6);
        assert!(timing.is_good(0.1) && !timing.is_good(0.022));
        assert!(timing.verdict(0.022).contains("cannot key the line"));
    }

    #[test]
    fn one_late_edge_in_a_thousand_is_let_pass_and_two_are_not() {
        let mut timing = Timing::default();
        (0..999).for_each(|_| timing.count(1e-5));
        timing.count(1.0);
        assert!(timing.is_good(0.022) && timing.most_s() == 1.0);
        timing.count(-1.0);
        assert!(!timing.is_good(0.022));
    }

    #[test]
    fn nothing_counted_is_nothing() {
        let timing = Timing::default();
        assert_eq!((timing.edges(), timing.within_s(0.999)), (0, 0.0));
    }
}
