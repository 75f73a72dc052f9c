//! From text to a keyed line.

use super::{Pace, Sender};
use crate::evenings::alphabet::{FIGURES, LETTERS, Machine, SPACE};
use crate::evenings::draw::Draw;
use crate::evenings::text::message;
use std::f64::consts::TAU;

/// From each instant on mark, space or nothing, until the next.
pub struct Line {
    /// Instants, s, and whether mark, space or nothing.
    pub stretches: Vec<(f64, Option<bool>)>,
    /// What was sent in full.
    pub glyphs: String,
    /// The codes of all that, shifts and fill included.
    pub codes: Vec<u8>,
    /// When the first start element begins, s.
    pub begin_s: f64,
}

/// Mark after the last character of an over, s.
const TAIL_S: f64 = 0.2;
/// How long the motor takes to hunt up and down, s.
const HUNT_S: f64 = 3.0;

/// A line while it is keyed.
struct Keying<'a> {
    sender: &'a Sender,
    draw: &'a mut Draw,
    line: Line,
    at_s: f64,
    /// Characters left in this go, where a few are sent at a time.
    left: usize,
}

impl Sender {
    /// Keys the line from `from_s` until `until_s`; nothing before and after.
    pub fn key(&self, from_s: f64, until_s: f64, draw: &mut Draw) -> Line {
        let most = ((until_s - from_s) * self.baud) as usize / 6;
        let text = message(self.matter, draw, most).replace("\r\n", self.line_end);
        let begin_s = from_s + self.lead_s;
        let line = Line {
            stretches: vec![(0.0, None), (from_s, Some(true))],
            glyphs: String::new(),
            codes: Vec::new(),
            begin_s,
        };
        let mut keying = Keying {
            sender: self,
            draw,
            line,
            at_s: begin_s,
            left: 0,
        };
        keying.text(&text, from_s, until_s);
        keying.line
    }
}

impl Keying<'_> {
    fn text(&mut self, text: &str, from_s: f64, until_s: f64) {
        let sender = self.sender;
        let mut machine = Machine::new(sender.row, sender.unshift);
        let mut over_ends_s = sender.overs_s.map_or(f64::MAX, |[on_s, _]| from_s + on_s);
        for glyph in text.chars() {
            let codes = self.codes(&mut machine, glyph);
            let takes_s = codes.len() as f64 * (6.0 + sender.stop) / sender.baud + TAIL_S;
            if let Some([on_s, off_s]) = sender.overs_s
                && self.at_s + takes_s > over_ends_s
            {
                self.off();
                self.at_s += off_s + sender.lead_s;
                over_ends_s = self.at_s + on_s;
                if self.at_s + takes_s > until_s {
                    return;
                }
                self.line
                    .stretches
                    .push((self.at_s - sender.lead_s, Some(true)));
            }
            if self.at_s + takes_s > until_s {
                break;
            }
            codes.into_iter().for_each(|code| self.character(code));
            self.line.glyphs.push(glyph);
            self.at_s += self.pause_s(glyph);
        }
        self.at_s = self.at_s.min(until_s - TAIL_S);
        self.off();
    }

    /// The carrier goes off.
    fn off(&mut self) {
        self.at_s += TAIL_S;
        self.line.stretches.push((self.at_s, None));
    }

    /// What is sent for a glyph, fill before it.
    fn codes(&mut self, machine: &mut Machine, glyph: char) -> Vec<u8> {
        let in_figures = machine.in_figures();
        let fill = if in_figures { FIGURES } else { LETTERS };
        let fills = match self.sender.pace {
            Pace::Filled { share } => self.draw.chance(share),
            _ => false,
        };
        let mut codes = if fills { vec![fill] } else { Vec::new() };
        codes.extend(machine.send(glyph));
        let stays = in_figures && machine.in_figures();
        if self.sender.repeat_shift && stays && codes.last() == Some(&SPACE) {
            codes.push(FIGURES);
        }
        codes
    }

    fn character(&mut self, code: u8) {
        self.line.codes.push(code);
        let sender = self.sender;
        let hunt = sender.hunt * (TAU * self.at_s / HUNT_S).sin();
        let element_s = (1.0 + hunt) / sender.baud;
        let bound_s = 0.45 * element_s;
        let mut last = true;
        for k in 0..7 {
            let mark = k == 6 || (k > 0 && code >> (k - 1) & 1 == 1);
            if mark != last {
                let bias = if mark { -0.5 } else { 0.5 } * sender.bias * element_s;
                let moved_s = sender.jitter_s * self.draw.gauss()[0] + bias;
                let at_s = self.at_s + f64::from(k) * element_s;
                let change = (at_s + moved_s.clamp(-bound_s, bound_s), Some(mark));
                self.line.stretches.push(change);
                last = mark;
            }
        }
        self.at_s += (6.0 + sender.stop) * element_s;
    }

    /// Mark after a character, s.
    fn pause_s(&mut self, glyph: char) -> f64 {
        match self.sender.pace {
            Pace::Tape | Pace::Filled { .. } => 0.0,
            Pace::Typed {
                gap_s,
                pause_share,
                pause_s,
            } => {
                let thinks = matches!(glyph, ' ' | '\n') && self.draw.chance(pause_share);
                let longest_s = if thinks { pause_s } else { 0.0 };
                self.draw.waiting(gap_s) + self.draw.range(0.0, longest_s)
            }
            Pace::Few { every_s } => {
                if self.left == 0 {
                    self.left = 1 + self.draw.below(3);
                }
                self.left -= 1;
                if self.left == 0 { every_s } else { 0.0 }
            }
        }
    }
}
