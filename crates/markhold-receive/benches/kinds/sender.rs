//! A sending station: from text to a keyed line, and from the line to two tones.

use crate::alphabet::{FIGURES, Machine, Row, SPACE};
use crate::draw::Draw;
use crate::text::{Matter, message};
use rustfft::num_complex::Complex;
use std::f64::consts::TAU;

/// Pauses between characters, all at mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// Each character follows at once, as from tape.
    Tape,
    /// Exponential gaps of so many seconds in the mean; between words, so often, a pause up to so long.
    Typed {
        gap_s: f64,
        pause_share: f64,
        pause_s: f64,
    },
    /// One to three characters after so many seconds of mark.
    Few { every_s: f64 },
    /// The letters shift is sent whenever nothing else is, so often.
    Filled { share: f64 },
}

/// How the two tones are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Oscillator {
    /// One, moved: its phase never jumps.
    Moved,
    /// Two that run freely, switched.
    Two,
    /// One that begins anew at each change.
    Fresh,
}

/// Everything about a sender. Levels are relative: a tone alone has amplitude 1.
#[derive(Clone, Debug)]
pub struct Sender {
    pub matter: Matter,
    pub row: Row,
    /// Its machine goes back to letters on a space, and relies on that at the other end.
    pub unshift: bool,
    /// Figures shift is sent again after a space within figures.
    pub repeat_shift: bool,
    pub mark_hz: f64,
    pub space_hz: f64,
    pub baud: f64,
    /// Length of the stop element, elements.
    pub stop: f64,
    pub pace: Pace,
    /// Mark elements are so much of an element too long, space ones too short; or the other way.
    pub bias: f64,
    /// Scatter of each transition, standard deviation, s.
    pub jitter_s: f64,
    pub oscillator: Oscillator,
    /// Amplitudes of mark and space.
    pub levels: [f64; 2],
    /// Carrier off in between: sends for so long, is silent for so long, s.
    pub overs_s: Option<[f64; 2]>,
    /// Idle mark before the first character, s.
    pub lead_s: f64,
}

/// The line: from each instant on, mark, space or nothing, until the next.
pub struct Line {
    stretches: Vec<(f64, Option<bool>)>,
    /// What was sent in full.
    pub glyphs: String,
    /// When the first start element begins, s.
    pub begin_s: f64,
}

impl Sender {
    /// Keys the line from `from_s` until `until_s`; both ends silent.
    pub fn key(&self, from_s: f64, until_s: f64, draw: &mut Draw) -> Line {
        let text = message(
            self.matter,
            draw,
            ((until_s - from_s) * self.baud) as usize / 6,
        );
        let mut machine = Machine::new(self.row, self.unshift);
        let mut line = Line {
            stretches: vec![(0.0, None), (from_s, Some(true))],
            glyphs: String::new(),
            begin_s: from_s + self.lead_s,
        };
        let element_s = 1.0 / self.baud;
        let mut at_s = line.begin_s;
        let mut over_ends_s = self.overs_s.map_or(f64::MAX, |[on_s, _]| from_s + on_s);
        let mut left = 0;
        for glyph in text.chars() {
            let fill = matches!(self.pace, Pace::Filled { share } if draw.chance(share));
            let mut codes = if fill {
                self.fill(&machine)
            } else {
                Vec::new()
            };
            codes.extend(self.codes(&mut machine, glyph));
            let took_s = codes.len() as f64 * (6.0 + self.stop) * element_s;
            if at_s + took_s + 0.3 > over_ends_s.min(until_s) {
                let Some([on_s, off_s]) = self.overs_s else {
                    break;
                };
                line.stretches.push((at_s + 0.2, None));
                line.stretches.push((at_s + 0.2 + off_s, Some(true)));
                at_s += 0.2 + off_s + self.lead_s;
                over_ends_s = at_s + on_s;
                if at_s + took_s + 0.3 > until_s {
                    line.stretches.pop();
                    break;
                }
            }
            for code in codes {
                at_s = self.character(&mut line, at_s, code, draw);
            }
            line.glyphs.push(glyph);
            at_s += self.pause_s(glyph, &mut left, draw);
        }
        if line.stretches.last().is_some_and(|s| s.1.is_some()) {
            line.stretches.push((at_s.min(until_s) + 0.2, None));
        }
        line
    }

    /// Letters shift, or figures where those are in force: fill changes nothing.
    fn fill(&self, machine: &Machine) -> Vec<u8> {
        vec![if machine.in_figures() { FIGURES } else { 31 }]
    }

    fn codes(&self, machine: &mut Machine, glyph: char) -> Vec<u8> {
        let before = machine.in_figures();
        let mut codes = machine.send(glyph);
        if self.repeat_shift && before && codes == [SPACE] && machine.in_figures() {
            codes.push(FIGURES);
        }
        codes
    }

    /// One character from `at_s`; its end.
    fn character(&self, line: &mut Line, at_s: f64, code: u8, draw: &mut Draw) -> f64 {
        let element_s = 1.0 / self.baud;
        let mut last = true;
        for k in 0..7 {
            let mark = k == 6 || (k > 0 && code >> (k - 1) & 1 == 1);
            if mark != last {
                let moved_s = self.jitter_s * draw.gauss()[0]
                    + if mark { -0.5 } else { 0.5 } * self.bias * element_s;
                let bound_s = 0.45 * element_s;
                let from_s = at_s + f64::from(k) * element_s + moved_s.clamp(-bound_s, bound_s);
                line.stretches.push((from_s, Some(mark)));
                last = mark;
            }
        }
        at_s + (6.0 + self.stop) * element_s
    }

    /// What follows a character, s; `left` are the characters yet to come in this go.
    fn pause_s(&self, glyph: char, left: &mut usize, draw: &mut Draw) -> f64 {
        match self.pace {
            Pace::Tape | Pace::Filled { .. } => 0.0,
            Pace::Typed {
                gap_s,
                pause_share,
                pause_s,
            } => {
                let thinks = matches!(glyph, ' ' | '\n') && draw.chance(pause_share);
                let pause_s = if thinks {
                    draw.range(0.3, pause_s)
                } else {
                    0.0
                };
                draw.waiting(gap_s) + pause_s
            }
            Pace::Few { every_s } => {
                if *left == 0 {
                    *left = 1 + draw.below(3);
                }
                *left -= 1;
                if *left == 0 { every_s } else { 0.0 }
            }
        }
    }

    /// The two tones, `count` samples at `rate`; `off_hz` moves both by the second.
    pub fn tones(
        &self,
        line: &Line,
        rate: f64,
        count: usize,
        off_hz: &dyn Fn(f64) -> f64,
        draw: &mut Draw,
    ) -> Vec<Complex<f32>> {
        let mut phases = [draw.range(0.0, 1.0), draw.range(0.0, 1.0)];
        let (mut place, mut off) = (0, 0.0);
        let tone = |n: usize| {
            let at_s = n as f64 / rate;
            if n.is_multiple_of(64) {
                off = off_hz(at_s);
            }
            while line.stretches.get(place + 1).is_some_and(|s| s.0 <= at_s) {
                place += 1;
                if self.oscillator == Oscillator::Fresh {
                    phases = [draw.range(0.0, 1.0), draw.range(0.0, 1.0)];
                }
            }
            let now = line.stretches[place].1;
            let hz = [self.mark_hz + off, self.space_hz + off];
            let which = usize::from(now == Some(false));
            for (k, phase) in phases.iter_mut().enumerate() {
                let runs = if self.oscillator == Oscillator::Two {
                    k
                } else {
                    which
                };
                *phase = (*phase + hz[runs] / rate).fract();
            }
            let level = now.map_or(0.0, |_| self.levels[which]);
            let turn = if self.oscillator == Oscillator::Two {
                phases[which]
            } else {
                phases[0]
            };
            let (sine, cosine) = (TAU * turn).sin_cos();
            Complex::new((level * cosine) as f32, (level * sine) as f32)
        };
        (0..count).map(tone).collect()
    }
}
