//! Sender models: what a sender does to the phases of its tones.
//!
//! Each tone is followed in its own stream, turned by an oscillator at the tone's
//! frequency, both from the same instant. A phase-continuous sender that is at mark keeps
//! mark's phase there; meanwhile the phase that space will have when it comes next moves
//! on by the shift. So, with `D` the distance mark less space in Hz,
//!
//! ```text
//!   t seconds of mark:   mark's phase stays,           space's moves by +2 pi D t
//!   t seconds of space:  mark's phase moves by -2 pi D t,   space's stays
//! ```
//!
//! A sender with a bias makes every run of mark longer by the same time, and every run of
//! space shorter: both phases then move on by `2 pi D` times that, mark's where space ends
//! and space's where mark ends.
//!
//! With 170 Hz and 22 ms that is 3.74 turns: one element taken wrongly puts the phase of
//! everything after it wrong by 94 degrees. Where a character begins hardly matters for
//! this, only how long its elements are.

use std::f32::consts::TAU;

use super::table::Turn;

/// One way in which a sender may treat its phases.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SenderModel {
    /// One oscillator moved between the tones, or two of their own.
    pub continuous: bool,
    /// Standard deviation by which a phase wanders in an element, radians, when the tone is
    /// at its mean power; in a fade it wanders more.
    pub wander: f32,
    /// Standard deviation of the phase at every element's begin, radians: transitions that
    /// come early or late.
    pub kick: f32,
    /// Standard deviation of space's phase where an idle line ends, radians: starts that
    /// are known no better.
    pub start: f32,
}

/// Frequencies that a window is walked with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuning {
    /// Mark less space, Hz, as the streams were turned.
    pub distance_hz: f64,
    /// Duration of an element, s.
    pub element_s: f64,
    /// How far mark and space lie above where they were sought, Hz.
    pub offset_hz: [f64; 2],
    /// Bias: how much longer the sender's marks are, and its spaces shorter, elements.
    pub bias: f64,
}

impl Tuning {
    /// How fast the phases of mark and of space move while a tone of a phase-continuous
    /// sender is sent (0 mark, 1 space), Hz.
    pub fn moving_hz(&self, tone: usize) -> [f64; 2] {
        let [e_mark, e_space] = self.offset_hz;
        match tone {
            0 => [e_mark, e_mark + self.distance_hz],
            _ => [e_space - self.distance_hz, e_space],
        }
    }

    /// By how much a bias turns the phase of the tone to come at each transition, radians.
    pub fn bias_turn(&self) -> f64 {
        (self.distance_hz * self.bias * self.element_s).rem_euclid(1.0) * std::f64::consts::TAU
    }
}

impl SenderModel {
    /// Turns of mark's and of space's phase over an element of a tone (0 mark, 1 space).
    /// `wander` is what each phase wanders in an element. The tone that is sent keeps its
    /// phase and the other one bears what both wander: about half of all elements are of
    /// either kind, and it halves the work.
    pub fn element_turns(
        &self,
        tuning: &Tuning,
        tone: usize,
        wander: [f32; 2],
        phases: usize,
    ) -> [Turn; 2] {
        let spreads = [0, 1].map(|k| match k == tone {
            true => 0.0,
            false => (2.0 * wander[k] * wander[k] + self.kick * self.kick).sqrt(),
        });
        self.turns(tuning, tone, 1.0, spreads, phases)
    }

    /// Turns over `span` elements of idle line; with `start`, a character begins after it.
    pub fn idle_turns(&self, tuning: &Tuning, span: f64, start: bool, phases: usize) -> [Turn; 2] {
        let variance = self.wander * self.wander * span as f32;
        let start = if start { self.start } else { 0.0 };
        let spreads = [variance.sqrt(), (variance + start * start).sqrt()];
        self.turns(tuning, 0, span, spreads, phases)
    }

    /// Turns where the line changes to a tone (0 mark, 1 space). A bias lengthens every run
    /// of mark and shortens every run of space, so the phase of the tone that was not sent
    /// stands farther on than the whole elements took it; `None` without a bias.
    pub fn change_turns(&self, tuning: &Tuning, phases: usize) -> Option<[[Turn; 2]; 2]> {
        if !self.continuous || tuning.bias == 0.0 {
            return None;
        }
        let turn = Turn::new(tuning.bias_turn() as f32, 0.0, phases);
        Some([[turn, Turn::still()], [Turn::still(), turn]])
    }

    /// Turns over `span` elements of a tone, with standard deviations in radians.
    fn turns(
        &self,
        tuning: &Tuning,
        tone: usize,
        span: f64,
        spreads: [f32; 2],
        phases: usize,
    ) -> [Turn; 2] {
        let t = span * tuning.element_s;
        let hz = match self.continuous {
            true => tuning.moving_hz(tone),
            false => tuning.offset_hz,
        };
        [0, 1].map(|k| {
            let angle = (hz[k] * t).rem_euclid(1.0) as f32 * TAU;
            match angle == 0.0 && spreads[k] == 0.0 {
                true => Turn::still(),
                false => Turn::new(angle, spreads[k], phases),
            }
        })
    }
}
