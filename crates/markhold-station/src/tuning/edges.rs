//! Edges of the passband that do not wander: filters stay as they are until somebody turns
//! them, while what is seen of them in noise and signals comes and goes.

use std::collections::VecDeque;

/// Looks that count, one a second: longer than a fade or a crash, shorter than patience after
/// a filter was changed.
const LOOKS: usize = 15;
/// Edges that are seen no further away than this are where they were, Hz: two bins and a half.
const PLAY_HZ: f64 = 40.0;

/// Holds edges.
#[derive(Clone, Debug, Default)]
pub struct Edges {
    // state
    looks: VecDeque<Option<[f64; 2]>>,
    held: Option<[f64; 2]>,
}

impl Edges {
    /// Takes what a look showed; says where the edges are, Hz.
    pub fn take(&mut self, look: Option<[f64; 2]>) -> Option<[f64; 2]> {
        self.looks.push_back(look);
        let over = self.looks.len().saturating_sub(LOOKS);
        self.looks.drain(..over);
        let seen: Vec<[f64; 2]> = self.looks.iter().copied().flatten().collect();
        if 2 * seen.len() < self.looks.len() {
            self.held = None;
            return None;
        }
        let now = [0, 1].map(|k| middle(seen.iter().map(|edges| edges[k]).collect()));
        let moved = |held: [f64; 2]| (0..2).any(|k| (held[k] - now[k]).abs() > PLAY_HZ);
        if self.held.is_none_or(moved) {
            self.held = Some(now);
        }
        self.held
    }
}

/// The middle one.
fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_look_counts_and_flicker_does_not() {
        let mut edges = Edges::default();
        let filter = Some([300.0, 2700.0]);
        assert_eq!(edges.take(filter), filter);
        for second in 0..60 {
            let look = match second % 6 {
                1 => None,
                2 => Some([300.0, 1900.0]),
                3 => Some([331.0, 2670.0]),
                _ => filter,
            };
            assert_eq!(edges.take(look), filter, "{second} s");
        }
    }

    #[test]
    fn another_filter_is_believed_after_a_while() {
        let mut edges = Edges::default();
        for _ in 0..20 {
            edges.take(Some([300.0, 2700.0]));
        }
        let narrow = Some([1800.0, 2600.0]);
        let seconds = (0..60).position(|_| edges.take(narrow) == narrow);
        assert!(seconds.expect("believed") < LOOKS, "{seconds:?}");
    }

    #[test]
    fn what_is_not_seen_any_more_is_not_known() {
        let mut edges = Edges::default();
        assert_eq!(edges.take(None), None);
        for _ in 0..20 {
            edges.take(Some([300.0, 2700.0]));
        }
        for _ in 0..LOOKS {
            edges.take(None);
        }
        assert_eq!(edges.take(None), None);
    }
}
