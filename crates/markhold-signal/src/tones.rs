//! A keyed line to two clean tones: phase-continuous FSK at any sampling rate.
//!
//! ```text
//! line  ‾‾‾‾‾\_______/‾‾‾‾      frequency  ‾‾‾‾\_      _/‾‾‾   phase = 2 pi integral
//!        mark  space  mark                      \____/          of the frequency
//! ```
//!
//! The frequency glides from one tone to the other along half a period of a cosine, or the
//! smoother course that a transmitter needs. The
//! phase is the exact integral of that glide over each sampling interval, so an edge
//! stands where the line has it and not at the nearest sample, and a rate of 45.45 baud
//! is 45.45 baud at 44 100 Hz too. Every edge is passed [`ToneMaker::delay_s`] later than
//! on the line, all by the same time.
//!
//! # How far from the tones anything is heard
//!
//! Far from the tones the spectrum is made where the frequency's course is least smooth:
//! its second derivative jumps by `(D/2)(pi/T)^2` where a glide begins and where it ends,
//! with D the shift, Hz, and T the time of the glide, s. Integrating the Fourier integral
//! of one glide by parts leaves the contributions of both ends, each
//!
//! ```text
//! J / (2 pi d)^4 * (1 + 1 / (2 d T)^2 + ... + 10 J / (2 pi d)^3 + ...),  J = pi^3 D / T^2
//! ```
//!
//! for a tone of amplitude 1, with d the distance, Hz, from the tone at that end. With n
//! transitions a second the mean density against the carrier is at most `n |Z|^2`, 1/Hz,
//! with Z both ends in phase. Switched at once it would be `Z = D / (2 pi d e)`, d and e
//! the distances from both tones. For 170 Hz at 45.45 baud and a glide of a quarter of an
//! element, 1 kHz away, that is -116 dB in 1 Hz instead of -75 dB (`computed here`);
//! `checks/check_tones.py` holds the sound against it.

use markhold_code::{StartStop, Stretch};
use std::collections::VecDeque;
use std::f64::consts::{PI, TAU};

/// Parts of a sample in which the line is measured. Whole numbers add up alike in any
/// order, so it does not matter when the line is given; 2^-24 of a sample is no error of
/// speed, and a line may be months long.
const PARTS: f64 = 16_777_216.0;
/// One sample in these parts.
const SAMPLE: i64 = PARTS as i64;

/// The course of the frequency from one tone to the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Course {
    /// Along half a period of a cosine.
    HalfCosine,
    /// A step smoothed by a raised cosine: steeper in its middle, and its curvature does not
    /// jump at its ends, so that less is heard far from the tones.
    RaisedCosine,
}

/// Two tones and how they are keyed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TonePlan {
    /// Frequency of mark, Hz.
    pub mark_hz: f64,
    /// Frequency of space, Hz; above or below mark.
    pub space_hz: f64,
    /// Amplitude (peak) of either tone, above 0, at most 1 = full scale.
    pub level: f64,
    /// Time from one tone to the other, s; 0 switches at once.
    pub glide_s: f64,
    /// How the frequency goes meanwhile.
    pub course: Course,
    /// Time of the soft start and of the soft end, s.
    pub rise_s: f64,
}

impl TonePlan {
    /// Amplitude where nothing else is asked for: 6 dB below full scale.
    pub const LEVEL: f64 = 0.5;
    /// Glide in elements: short enough that each tone stands alone for three quarters of
    /// an element, long enough to keep the spectrum near the tones.
    pub const GLIDE_ELEMENTS: f64 = 0.25;
    /// Soft start and end, s: the hearable thump of a shorter one is gone (common
    /// practice for keyed tones is 5 ms or more).
    pub const RISE_S: f64 = 0.01;

    /// Tones at the usual level, gliding as suits this speed.
    pub fn new(mark_hz: f64, space_hz: f64, speed: StartStop) -> Self {
        TonePlan {
            mark_hz,
            space_hz,
            level: Self::LEVEL,
            glide_s: Self::GLIDE_ELEMENTS * speed.element_s(),
            course: Course::HalfCosine,
            rise_s: Self::RISE_S,
        }
    }

    /// Checks every field against the sampling rate, Hz.
    fn check(&self, rate_hz: f64) -> Result<(), ToneError> {
        // The glide's skirts need room as well; a twentieth of the rate is more than the
        // usual band at every usual rate.
        let highest = 0.45 * rate_hz;
        let checks = [
            ("the mark tone, Hz", self.mark_hz, 1.0, highest),
            ("the space tone, Hz", self.space_hz, 1.0, highest),
            ("the level", self.level, 1e-4, 1.0),
            ("the glide, s", self.glide_s, 0.0, 1.0),
            ("the soft start, s", self.rise_s, 0.0, 1.0),
        ];
        for (what, found, least, most) in checks {
            if !(least..=most).contains(&found) {
                return Err(ToneError {
                    what,
                    found,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }
}

/// A value of a [`TonePlan`] that cannot be made.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{what}, is {found}, expected {least} to {most} at this sampling rate; change it")]
pub struct ToneError {
    /// Which value, with its unit.
    pub what: &'static str,
    /// The value found.
    pub found: f64,
    /// The least that works.
    pub least: f64,
    /// The most that works.
    pub most: f64,
}

/// Makes tones of a line that comes in stretches.
#[derive(Clone, Debug)]
pub struct ToneMaker {
    // Configured.
    plan: TonePlan,
    rate_hz: f64,
    // Derived, per sample.
    /// Turns a sample on mark.
    mark_turns: f64,
    /// What space adds to that.
    shift_turns: f64,
    /// Samples that a glide takes.
    glide: f64,
    /// Samples that the soft start takes.
    rise: f64,
    // State.
    /// Line given and not made yet, parts of a sample.
    given: i64,
    /// Whether the line stands at mark after what was given.
    mark: bool,
    /// Edges whose glide is not over.
    edges: VecDeque<Edge>,
    /// 0 on mark, 1 on space, before the edges.
    settled: f64,
    /// Phase, turns, 0 to 1.
    phase: f64,
    /// Samples of the soft start made.
    risen: f64,
    /// Whether the sound fades at the end of what was given.
    ending: bool,
}

/// A transition of the line.
#[derive(Clone, Copy, Debug)]
struct Edge {
    /// Parts of a sample from now until its glide begins; below 0 when it has begun.
    at: i64,
    /// +1 towards space, -1 towards mark.
    step: f64,
}

impl Edge {
    /// Samples since its glide began; below 0 until then.
    fn since(&self) -> f64 {
        -self.at as f64 / PARTS
    }

    fn is_over(&self, glide: f64) -> bool {
        self.since() >= glide
    }
}

impl ToneMaker {
    /// A maker whose line stands at mark and whose sound has not begun.
    ///
    /// Errors: a value of the plan that cannot be made at this sampling rate, Hz.
    pub fn new(plan: TonePlan, rate_hz: f64) -> Result<Self, ToneError> {
        plan.check(rate_hz)?;
        Ok(ToneMaker {
            mark_turns: plan.mark_hz / rate_hz,
            shift_turns: (plan.space_hz - plan.mark_hz) / rate_hz,
            glide: plan.glide_s * rate_hz,
            rise: plan.rise_s * rate_hz,
            plan,
            rate_hz,
            given: 0,
            mark: true,
            edges: VecDeque::new(),
            settled: 0.0,
            phase: 0.0,
            risen: 0.0,
            ending: false,
        })
    }

    /// Back to the state after `new`.
    pub fn reset(&mut self) {
        *self = Self::new(self.plan, self.rate_hz).expect("the plan was checked before");
    }

    /// How much later than on the line an edge passes the middle of the tones, s.
    pub fn delay_s(&self) -> f64 {
        self.plan.glide_s / 2.0
    }

    /// Adds a stretch to the line; one that is not finite or below 0 counts as 0 s.
    ///
    /// After [`end`](Self::end) the sound comes back as softly as it went.
    pub fn push(&mut self, stretch: Stretch) {
        if self.ending {
            self.risen = self.risen.min(self.given as f64 / PARTS);
            self.ending = false;
        }
        if stretch.mark != self.mark {
            let step = if stretch.mark { -1.0 } else { 1.0 };
            let at = self.given;
            self.edges.push_back(Edge { at, step });
            self.mark = stretch.mark;
        }
        let parts = (stretch.length_s * self.rate_hz * PARTS).round();
        if parts.is_finite() {
            self.given = self.given.saturating_add(parts.max(0.0) as i64);
        }
    }

    /// Puts the line to mark and lets the sound fade once everything given is made.
    pub fn end(&mut self) {
        let length_s = self.plan.glide_s + self.plan.rise_s;
        self.push(Stretch {
            mark: true,
            length_s,
        });
        self.ending = true;
    }

    /// Forgets what was given and is not made yet. The next stretch follows at once.
    pub fn cancel(&mut self) {
        while self.edges.back().is_some_and(|edge| edge.at > 0) {
            self.edges.pop_back();
            self.mark = !self.mark;
        }
        self.given = 0;
    }

    /// Line given and not made yet, s.
    pub fn given_s(&self) -> f64 {
        self.given as f64 / PARTS / self.rate_hz
    }

    /// Makes samples until `out` is full or the line given is used up; how many.
    ///
    /// Less than one sample of line is kept for the next call.
    pub fn fill(&mut self, out: &mut [f32]) -> usize {
        for (made, sample) in out.iter_mut().enumerate() {
            if self.given < SAMPLE {
                return made;
            }
            *sample = self.next();
        }
        out.len()
    }

    fn next(&mut self) -> f32 {
        let sample = self.plan.level * self.gain() * (TAU * self.phase).sin();
        let turns = self.mark_turns + self.shift_turns * self.space_share();
        self.phase = (self.phase + turns).fract();
        self.given -= SAMPLE;
        self.risen = (self.risen + 1.0).min(self.rise);
        self.edges.iter_mut().for_each(|edge| edge.at -= SAMPLE);
        while let Some(edge) = self.edges.front().filter(|edge| edge.is_over(self.glide)) {
            self.settled += edge.step;
            self.edges.pop_front();
        }
        sample as f32
    }

    /// Share of the coming sample that the line stands at space, glides counted in part.
    fn space_share(&self) -> f64 {
        let part = |edge: &Edge| {
            let since = edge.since();
            edge.step * (self.glided(since + 1.0) - self.glided(since))
        };
        self.settled + self.edges.iter().map(part).sum::<f64>()
    }

    /// Integral of a glide from 0 to 1 over its first `since` samples.
    fn glided(&self, since: f64) -> f64 {
        if since <= 0.0 {
            0.0
        } else if since >= self.glide {
            since - self.glide / 2.0
        } else {
            let (glide, part) = (self.glide, since / self.glide);
            match self.plan.course {
                Course::HalfCosine => since / 2.0 - glide / TAU * (PI * part).sin(),
                Course::RaisedCosine => {
                    glide * (part * part / 2.0 + ((TAU * part).cos() - 1.0) / (TAU * TAU))
                }
            }
        }
    }

    /// Gain of the soft start and end, 0 to 1.
    fn gain(&self) -> f64 {
        let left = if self.ending {
            (self.given - SAMPLE) as f64 / PARTS
        } else {
            self.rise
        };
        let at = self.risen.min(left);
        if at >= self.rise {
            return 1.0;
        }
        (1.0 - (PI * at / self.rise).cos()) / 2.0
    }
}

#[cfg(test)]
#[path = "tones_tests.rs"]
mod tests;
