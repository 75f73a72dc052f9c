//! Start-stop characters of a line that is known by its transitions: a receiver in software.
//!
//! ```text
//!   mark ___      ___     ___________        each element is looked at three times about its
//!           |start| 1 | 2 | 3 ..  5 |stop    centre, 1.5, 2.5 .. units after the start edge; two
//!  space    |_____|   |___|                  of the three decide
//!            ...   ...  ...      ...  ...
//! ```
//!
//! The start element must be space at its centre, or it was none; the stop element must be mark,
//! or there was no character. Whatever comes, the next start edge is looked for only after that.
//! With looks at the very centre the margin is half an element (geometry, ITU-T's terms from
//! memory); three looks side by side, which make it deaf to a bouncing contact, cost 4 % of it.

use super::line::Stroke;
use markhold_code::{Code, Format, StartStop};
use std::collections::VecDeque;

/// Start-stop distortion that never spoils a character at the line's own speed, elements. Working
/// systems keep below 0.40 (US Army training text), a sender alone within 0.05 (ITU-T S.3, from
/// memory). A speed that is wrong by 0.75 % takes 0.05 of it at the stop element (geometry).
pub const MARGIN: f64 = 0.45;

/// Between the looks at one element, elements: a millisecond at 45.45 baud, in which a contact
/// has bounced (common practice).
const APART: f64 = 0.04;
const LOOKS: [f64; 3] = [0.5 - APART, 0.5, 0.5 + APART];
/// Elements that are looked at: start, code and the first unit of stop.
const ELEMENTS: usize = Format::FIVE_UNIT.least_units();
/// The centre of the stop element, elements after the start edge: whatever the code, the line is in
/// mark there.
const STOP: f64 = ELEMENTS as f64 - 0.5;
/// Mark that lasts for so many elements holds a stop element: all of a code's are fewer.
const SURELY_STOP: f64 = Format::FIVE_UNIT.data_units as f64 + MARGIN;

/// What was framed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Framed {
    /// Its start edge, s; of a break, where space began.
    pub start_s: f64,
    /// What it was.
    pub stroke: Stroke,
}

/// Frames a line.
#[derive(Clone, Debug)]
pub struct Framer {
    // Configured.
    element_s: f64,
    break_s: f64,
    // State.
    mark: bool,
    /// Since when the line is as it is, s.
    since_s: f64,
    at: At,
    framed: VecDeque<Framed>,
}

/// Where in a character it is.
#[derive(Clone, Copy, Debug, PartialEq)]
enum At {
    /// The next start edge is waited for.
    Rest,
    /// So many looks were taken, and this many of each element were mark.
    Inside {
        start_s: f64,
        taken: usize,
        marks: [u8; ELEMENTS],
    },
    /// Mark is waited for, no sooner than then: what began there is no character.
    Spoilt { start_s: f64, until_s: f64 },
    /// Nobody knows where characters begin: mark of more elements than a code has is waited for.
    Unknown,
    /// Mark is waited for, after a break, or because nobody knows what the line was before.
    Open,
}

impl Framer {
    /// For a line of this speed. Space that lasts for `break_s` is a break; one shorter than a
    /// character would be none, and lasts for that.
    pub fn new(speed: StartStop, break_s: f64) -> Self {
        Framer {
            element_s: speed.element_s(),
            break_s: break_s.max(speed.character_s()),
            mark: false,
            since_s: f64::INFINITY,
            at: At::Open,
            framed: VecDeque::new(),
        }
    }

    /// The line is mark, or not, from `at_s` on. Times ascend.
    pub fn edge(&mut self, at_s: f64, mark: bool) {
        self.until(at_s);
        if mark != self.mark || self.since_s.is_infinite() {
            (self.mark, self.since_s) = (mark, at_s);
            self.turned(at_s);
        }
    }

    /// Nothing has changed until `to_s`.
    pub fn until(&mut self, to_s: f64) {
        while let At::Inside { start_s, taken, .. } = self.at {
            if look_s(start_s, taken, self.element_s) > to_s {
                break;
            }
            self.look();
        }
        match self.at {
            At::Spoilt { start_s, until_s } if self.mark && to_s >= until_s => {
                self.misread(start_s);
                self.at = At::Rest;
            }
            At::Unknown if self.mark && to_s - self.since_s >= SURELY_STOP * self.element_s => {
                self.at = At::Rest;
            }
            _ => {}
        }
        if !self.mark && to_s - self.since_s >= self.break_s && self.at != At::Open {
            self.at = At::Open;
            self.framed.push_back(Framed {
                start_s: self.since_s,
                stroke: Stroke::Break,
            });
        }
    }

    /// Nobody looked between these two times; at the latter the line is mark, or not. What was begun
    /// is no character, though space on both sides may still become a break; where the next one
    /// begins is known if the gap ended before the stop element, or was too short for a start element
    /// to come and go.
    pub fn lost(&mut self, from_s: f64, to_s: f64, mark: bool) {
        self.until(from_s);
        let stop_s = |start_s: f64| start_s + STOP * self.element_s;
        let at = match self.at {
            At::Inside { start_s, .. } | At::Spoilt { start_s, .. } if to_s < stop_s(start_s) => {
                let until_s = stop_s(start_s);
                At::Spoilt { start_s, until_s }
            }
            At::Rest if to_s - from_s < self.element_s && mark => At::Rest,
            At::Open if !mark => At::Open,
            _ => At::Unknown,
        };
        let begun = match self.at {
            At::Inside { start_s, .. } | At::Spoilt { start_s, .. } => Some(start_s),
            At::Rest if !mark => Some(to_s),
            _ => None,
        };
        if let (Some(start_s), At::Unknown) = (begun, at) {
            self.misread(start_s);
        }
        self.at = at;
        if mark || self.mark {
            self.since_s = to_s;
        }
        self.mark = mark;
    }

    /// What is complete and was not given yet.
    pub fn take(&mut self) -> Option<Framed> {
        self.framed.pop_front()
    }

    /// Whether something has begun that may become a character or a break.
    pub fn is_inside(&self) -> bool {
        matches!(self.at, At::Inside { .. } | At::Spoilt { .. })
    }

    /// Whether space has lasted since a break, or from the start.
    pub fn is_open(&self) -> bool {
        self.at == At::Open && self.since_s.is_finite()
    }

    /// The line has just changed.
    fn turned(&mut self, at_s: f64) {
        self.at = match (self.at, self.mark) {
            (At::Rest, false) => inside(at_s),
            (At::Spoilt { start_s, until_s }, true) if at_s >= until_s => {
                self.misread(start_s);
                At::Rest
            }
            (At::Open, true) => At::Rest,
            (at, _) => at,
        };
    }

    /// The next look at the character.
    fn look(&mut self) {
        let At::Inside {
            start_s,
            ref mut taken,
            ref mut marks,
        } = self.at
        else {
            return;
        };
        let element = *taken / LOOKS.len();
        marks[element] += u8::from(self.mark);
        *taken += 1;
        if *taken % LOOKS.len() != 0 {
            return;
        }
        let is_mark = |element: usize| marks[element] > 1;
        match element {
            // A start element in mark was none. If the line is in space it may have begun since.
            0 if is_mark(0) && self.mark => self.at = At::Rest,
            0 if is_mark(0) => self.at = inside(self.since_s),
            last if last + 1 < ELEMENTS => {}
            stop if is_mark(stop) => {
                let code = Code::from_elements(std::array::from_fn(|k| is_mark(k + 1)));
                self.framed.push_back(Framed {
                    start_s,
                    stroke: Stroke::Code(code),
                });
                self.at = match self.mark {
                    true => At::Rest,
                    // The next start edge came while the stop element was looked at.
                    false => inside(self.since_s),
                };
            }
            _ if self.mark => {
                self.misread(start_s);
                self.at = At::Rest;
            }
            _ => {
                self.at = At::Spoilt {
                    start_s,
                    until_s: start_s,
                }
            }
        }
    }

    fn misread(&mut self, start_s: f64) {
        self.framed.push_back(Framed {
            start_s,
            stroke: Stroke::Misread,
        });
    }
}

fn inside(start_s: f64) -> At {
    At::Inside {
        start_s,
        taken: 0,
        marks: [0; ELEMENTS],
    }
}

/// When a look is due, s.
fn look_s(start_s: f64, number: usize, element_s: f64) -> f64 {
    let (element, look) = (number / LOOKS.len(), number % LOOKS.len());
    start_s + (element as f64 + LOOKS[look]) * element_s
}

#[cfg(test)]
#[path = "framer_tests.rs"]
mod tests;
