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
