//! What a window hands on to the next: how the line stands where that begins.

use super::priors::{CHARACTER, MARKS, RUNS};
use crate::elements::Elements;
use crate::sums::log_sum::{NEVER, add, sum};

/// What is known of the line at the begin of a window: log probabilities, all relative to
/// the same unknown constant.
#[derive(Clone, Debug, PartialEq)]
pub struct Carry {
    pub(super) off: f32,
    /// Arrivals of each mark state at the first points of the window.
    pub(super) marks: [Vec<f32>; MARKS],
    /// Arrivals of characters' ends within each kind of run.
    pub(super) runs: [Vec<f32>; RUNS],
    /// Arrivals of starts at the first points of the window.
    pub(super) starts: Vec<f32>,
}

impl Carry {
    /// Nothing known, most likely no signal yet.
    pub fn nothing() -> Self {
        Self {
            off: 0.0,
            marks: [vec![], vec![NEVER], vec![-8.0], vec![]],
            runs: [vec![], vec![]],
            starts: vec![],
        }
    }

    /// Log of all that arrives.
    pub(super) fn total(&self) -> f32 {
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        lists.fold(self.off, |total, list| add(total, sum(list)))
    }

    /// The same before any of the window's elements were heard: what arrives later has been
    /// through them, each taken for either tone.
    pub(super) fn total_at_begin(&self, elements: &Elements) -> f32 {
        let steps = elements.steps;
        let element = |k: usize| match elements.mark.get(k * steps) {
            Some(mark) => add(*mark, elements.space[k * steps]) - std::f32::consts::LN_2,
            None => 0.0,
        };
        let whole: Vec<f32> = (0..CHARACTER + 3).map(element).collect();
        let before = |i: usize| {
            let (k, part) = (i / steps, (i % steps) as f32 / steps as f32);
            whole[..k].iter().sum::<f32>() + part * whole[k]
        };
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        lists.fold(self.off, |total, list| {
            let earlier = list.iter().enumerate().map(|(i, ln)| ln - before(i));
            add(total, sum(&earlier.collect::<Vec<f32>>()))
        })
    }

    /// Largest value zero, so that numbers do not grow with the length of a recording.
    pub(super) fn normalised(mut self) -> Self {
        let lists = self.marks.iter().chain(&self.runs).chain([&self.starts]);
        let highest = lists.flatten().fold(self.off, |a, &b| a.max(b));
        self.off -= highest;
        let lists = self.marks.iter_mut();
        for list in lists.chain(&mut self.runs).chain([&mut self.starts]) {
            list.iter_mut().for_each(|v| *v = (*v - highest).max(NEVER));
        }
        self
    }
}
