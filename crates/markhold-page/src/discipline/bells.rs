//! No more bells than the machine's owner can bear.

use super::Copied;
use std::collections::VecDeque;

/// The time over which bells are counted, s.
const OVER_S: f64 = 60.0;

/// Limits bells.
#[derive(Clone, Debug)]
pub struct Bells {
    // Configured.
    most: usize,
    // State.
    /// When the latest bells rang, s, at most `most` of them.
    rang: VecDeque<f64>,
    left: u64,
}

impl Bells {
    pub fn new(most: u16) -> Self {
        Bells {
            most: most.into(),
            rang: VecDeque::new(),
            left: 0,
        }
    }

    /// Whether this bell rings.
    pub fn rings(&mut self, bell: &Copied) -> bool {
        while self
            .rang
            .front()
            .is_some_and(|&at_s| bell.at_s - at_s >= OVER_S)
        {
            self.rang.pop_front();
        }
        let rings = !bell.doubtful && self.rang.len() < self.most;
        if rings {
            self.rang.push_back(bell.at_s);
        } else {
            self.left += 1;
        }
        rings
    }

    /// Bells that did not ring.
    pub fn left(&self) -> u64 {
        self.left
    }
}
