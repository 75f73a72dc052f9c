//! A character of the joint copy.

use markhold_code::{Code, Shift};

use crate::shares::{Shares, best};

/// A character of the joint copy.
#[derive(Clone, Debug, PartialEq)]
pub struct JointCharacter {
    /// Probability of each code by all copies that bear it, all codes being alike before, given
    /// that one was sent; adds up to 1.
    pub codes: Shares,
    /// Probability that a character was sent here at all.
    pub present: f32,
    /// Probability that no copy says something else here on purpose: 1 where none is sure of
    /// another code.
    pub agreed: f32,
    /// Probability that it was sent in figures shift.
    pub figures: f32,
    /// By copy, in the order in which they were given: the slot that stands here.
    pub slots: Vec<Option<usize>>,
    /// By copy: whether it goes past this place, with a character or without.
    pub passed: Vec<bool>,
    /// The variant that it is part of, by its place among [`crate::Joint::variants`].
    pub variant: Option<usize>,
}

impl JointCharacter {
    /// The likeliest code.
    pub fn code(&self) -> Code {
        Code::ALL[best(&self.codes)]
    }

    /// Probability that this code was sent here; for what it prints there is the doubt about the
    /// shift besides.
    pub fn probability(&self) -> f32 {
        self.codes[best(&self.codes)] * self.present * self.agreed
    }

    /// The shift in which it was sent, if that matters.
    pub fn shift(&self) -> Shift {
        match self.figures > 0.5 {
            true => Shift::Figures,
            false => Shift::Letters,
        }
    }

    /// The copies that bear it, by their place among those given.
    pub fn bearers(&self) -> impl Iterator<Item = usize> {
        let bears = |(copy, slot): (usize, &Option<usize>)| slot.map(|_| copy);
        self.slots.iter().enumerate().filter_map(bears)
    }
}
