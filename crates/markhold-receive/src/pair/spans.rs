//! Spans: the most likely course of the line, element by element, as far as it is known.

use crate::characters::{framing::Framed, reading::Reading};

/// A stretch during which the line did not change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// First grid point.
    pub from: usize,
    /// Grid point after the last.
    pub to: usize,
    /// Probability that the line was at mark, given that it was on.
    pub mark: f32,
    /// Probability that there was a signal at all.
    pub on: f32,
}

/// The line's course over a window of `points`, from its readings.
pub fn spans(readings: &[Reading], framed: &Framed, points: usize, steps: usize) -> Vec<Span> {
    let mut spans = Vec::new();
    let mut at = 0;
    for reading in readings {
        let start = reading.start.round() as usize;
        idle(&mut spans, framed, at, start.min(points), steps);
        let on = reading.present;
        for k in 0..7 {
            let (from, to) = (start + k * steps, start + (k + 1) * steps);
            if to <= points {
                let mark = match k {
                    0 => 0.0,
                    6 => 1.0,
                    k => reading.mark(k - 1),
                };
                spans.push(Span { from, to, mark, on });
            }
        }
        at = start + 7 * steps;
    }
    idle(&mut spans, framed, at, points, steps);
    spans
}

/// Mark in whole elements and one remainder.
fn idle(spans: &mut Vec<Span>, framed: &Framed, mut from: usize, end: usize, steps: usize) {
    while from < end {
        let to = (from + steps).min(end);
        let on = 1.0 - framed.off[from].max(framed.off[to - 1]);
        spans.push(Span {
            from,
            to,
            mark: 1.0,
            on,
        });
        from = to;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::characters::framing::{Carry, LinePriors, frame};
    use crate::elements::Elements;

    const STEPS: usize = 16;

    /// A window of which nothing is known but whether the line is off.
    fn framed(points: usize, off: f32) -> Framed {
        let elements = Elements {
            steps: STEPS,
            mark: vec![0.0; points],
            space: vec![0.0; points],
            part: vec![0.0; points * STEPS],
        };
        let mut framed = frame(&elements, &LinePriors::unknown(STEPS), &Carry::nothing());
        framed.off = vec![off; points];
        framed
    }

    fn reading(start: f64, code: usize) -> Reading {
        let mut codes = [0.0; 32];
        codes[code] = 1.0;
        Reading {
            start,
            spread: 0.0,
            present: 0.9,
            codes,
        }
    }

    #[test]
    fn a_character_becomes_seven_elements_and_the_rest_idle() {
        let spans = spans(&[reading(20.2, 0b00101)], &framed(192, 0.25), 192, STEPS);
        let idle = |from, to| Span {
            from,
            to,
            mark: 1.0,
            on: 0.75,
        };
        let element = |k: usize, mark| Span {
            from: 20 + k * STEPS,
            to: 36 + k * STEPS,
            mark,
            on: 0.9,
        };
        let mut expected = vec![idle(0, 16), idle(16, 20)];
        let marks = [0.0, 1.0, 0.0, 1.0, 0.0, 0.0, 1.0];
        expected.extend(marks.iter().enumerate().map(|(k, m)| element(k, *m)));
        expected.extend([
            idle(132, 148),
            idle(148, 164),
            idle(164, 180),
            idle(180, 192),
        ]);
        assert_eq!(spans, expected);
    }

    /// Spans cover the window once, up to what is left of a character cut by its end.
    #[test]
    fn no_span_overlaps_or_reaches_past_the_end() {
        for points in [100, 130, 251, 300] {
            for start in 0..points {
                let readings = [reading(start as f64, 3), reading((start + 120) as f64, 9)];
                let spans = spans(&readings, &framed(points, 0.0), points, STEPS);
                let ends = spans.iter().map(|s| s.to);
                let begins = spans.iter().skip(1).map(|s| s.from);
                assert!(
                    ends.zip(begins).all(|(to, from)| to == from),
                    "start {start}"
                );
                assert!(spans.iter().all(|s| s.from < s.to && s.to <= points));
                let left = points - spans.last().map_or(0, |s| s.to);
                assert!(
                    left < STEPS,
                    "start {start}: {left} of {points} points left"
                );
            }
        }
    }
}
