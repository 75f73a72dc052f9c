//! Which edges are starts: one decision over the whole line.
//!
//! A character at an edge to space is what an ideal receiver of that unit would read there:
//! samples in the middle of each element, the stop element mark, at most one transition
//! between two samples. Which of these candidates follow each other is decided backwards
//! over all edges, so that one misread edge does not carry the rest of the line with it.

use crate::line::Edge;
use markhold_code::{Code, Format};

/// A transition of a character.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transition {
    /// Units after the start edge where it belongs, 1 to 6.
    pub units: u8,
    /// Whether it leads to mark.
    pub to_mark: bool,
    /// When it came, s after the start edge.
    pub after_s: f64,
}

/// A character found on the line.
#[derive(Clone, Debug, PartialEq)]
pub struct Framed {
    /// Its start edge, s.
    pub start_s: f64,
    /// What it is.
    pub code: Code,
    /// Its transitions after the start edge, in order.
    pub transitions: Vec<Transition>,
    /// Whether the very next start edge on the line is the next character's.
    pub joined: bool,
}

/// Characters of a line at one unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Framing {
    /// In order of time.
    pub characters: Vec<Framed>,
    /// Edges that belong to them, over all edges from the first to the last of them; 0 to 1.
    /// (Noise before and after the line is none of its business.)
    pub explained: f64,
    /// How well the unit fits: 1 if every edge is explained and stands in its place, below
    /// 0 if most are not explained.
    pub score: f64,
}

/// What an edge a quarter of a unit off its place still counts, of one in its place: a
/// parabola that is 1/4 at half a unit, where edges change places.
const OFF_PLACE: f64 = 3.0;
/// What an edge counts that no character explains.
const UNEXPLAINED: f64 = -1.0;

struct Candidate {
    framed: Framed,
    next: usize,
    value: f64,
}

/// The best characters of a line whose unit is `unit_s`.
pub fn frame(line: &[Edge], unit_s: f64) -> Framing {
    if line.is_empty() {
        return Framing::default();
    }
    let count = line.len();
    let candidates: Vec<_> = (0..count).map(|i| candidate(line, i, unit_s)).collect();
    // best[i]: the most that edges i.. can count, edge i not being part of a character begun
    // before.
    let mut best = vec![0.0; count + 1];
    for i in (0..count).rev() {
        let skip = best[i + 1] + UNEXPLAINED;
        let begin = |c: &Candidate| c.value + best[c.next];
        best[i] = candidates[i].as_ref().map_or(skip, |c| begin(c).max(skip));
    }
    let mut framing = Framing {
        score: best[0] / count as f64,
        ..Framing::default()
    };
    let (mut i, mut explained) = (0, 0);
    let (mut first, mut last) = (count, count);
    let mut candidates = candidates;
    while i < count {
        match candidates[i].take() {
            Some(c) if c.value + best[c.next] >= best[i + 1] + UNEXPLAINED => {
                explained += c.next - i;
                first = first.min(i);
                last = c.next;
                i = c.next;
                framing.characters.push(c.framed);
            }
            _ => {
                if let Some(last) = framing.characters.last_mut() {
                    last.joined = false;
                }
                i += 1;
            }
        }
    }
    if let Some(last) = framing.characters.last_mut() {
        last.joined = false;
    }
    framing.explained = explained as f64 / (last - first.min(last)).max(1) as f64;
    framing
}

fn candidate(line: &[Edge], start: usize, unit_s: f64) -> Option<Candidate> {
    if line[start].mark {
        return None;
    }
    let start_s = line[start].at_s;
    let (mut next, mut mark, mut value) = (start + 1, false, 1.0);
    let mut elements = [false; Format::FIVE_UNIT.least_units()];
    let mut transitions = Vec::new();
    for (n, element) in elements.iter_mut().enumerate() {
        let sample_s = start_s + (n as f64 + 0.5) * unit_s;
        let before = next;
        while next < line.len() && line[next].at_s <= sample_s {
            next += 1;
        }
        match next - before {
            0 => {}
            1 if n > 0 => {
                mark = line[before].mark;
                let after_s = line[before].at_s - start_s;
                let off = after_s / unit_s - n as f64;
                value += 1.0 - OFF_PLACE * off * off;
                transitions.push(Transition {
                    units: n as u8,
                    to_mark: mark,
                    after_s,
                });
            }
            _ => return None,
        }
        *element = mark;
    }
    let [start_element, a, b, c, d, e, stop] = elements;
    (!start_element && stop).then(|| Candidate {
        framed: Framed {
            start_s,
            code: Code::from_elements([a, b, c, d, e]),
            transitions,
            joined: true,
        },
        next,
        value,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::{Distortion, Sending};
    use markhold_code::StartStop;
    use proptest::prelude::*;

    proptest! {
        /// Whatever is sent is read back, up to 45 % of distortion of either kind.
        #[test]
        fn what_is_sent_is_framed(
            values in proptest::collection::vec(0u8..32, 8..60),
            (bias, end, fortuitous) in (-0.25..0.25f64, -0.25..0.25f64, 0.0..0.2f64),
            stop in 1.3..2.0f64,
        ) {
            let codes: Vec<Code> = values.into_iter().filter_map(Code::new).collect();
            let sending = Sending {
                distortion: Distortion { bias, end, fortuitous },
                ..Sending::new(StartStop::new(50.0, stop))
            };
            let line = edges(&sending.line(&codes).expect("in range"));
            let framing = frame(&line, 0.02);
            let found: Vec<Code> = framing.characters.iter().map(|c| c.code).collect();
            prop_assert_eq!(found, codes);
            prop_assert_eq!(framing.explained, 1.0);
        }
    }

    #[test]
    fn a_spoilt_character_does_not_spoil_the_rest() {
        let codes = Code::ALL.repeat(3);
        let sending = Sending::new(StartStop::new(50.0, 1.5));
        let mut line = edges(&sending.line(&codes).expect("undistorted"));
        line.drain(101..103);
        let framing = frame(&line, 0.02);
        let right = framing.characters.len();
        assert!(right + 2 >= codes.len(), "{right} of {}", codes.len());
        assert!(framing.explained > 0.95);
    }

    #[test]
    fn nothing_comes_of_nothing() {
        assert_eq!(frame(&[], 0.02), Framing::default());
        let lone = [Edge {
            at_s: 1.0,
            mark: true,
        }];
        assert!(frame(&lone, 0.02).characters.is_empty());
    }
}
