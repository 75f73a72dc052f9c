//! Shown: what each span of a window that was read shows of both tones.

use super::curve::Showing;
use super::levels::Shown;
use super::spans::Span;
use super::window::{Window, WindowReading};

/// A span with less left of it, in elements, shows nothing of its tones.
const LEAST_CLEAR: f32 = 0.1;

/// What the spans with middles from `from_s` to before `until_s` showed.
pub fn shown(
    window: &Window,
    reading: &WindowReading,
    (from_s, until_s): (f64, f64),
) -> Vec<Shown> {
    let of = |span: &Span| {
        let at = window.grid.at((span.from + span.to) as f64 / 2.0);
        let length = window.clear[span.to] - window.clear[span.from];
        let counts = at >= from_s && at < until_s && length >= LEAST_CLEAR;
        counts.then(|| (at, showings(reading, span, length)))
    };
    reading.spans.iter().filter_map(of).collect()
}

/// What a span with `length` elements of clear sound showed of mark and of space.
fn showings(reading: &WindowReading, span: &Span, length: f32) -> [Showing; 2] {
    // While the line seems off, either tone may be there unnoticed, fallen below what was
    // expected of it: let the expectation fall.
    let unknown = 0.5 * (1.0 - span.on);
    let mark = span.mark * span.on + unknown;
    let space = (1.0 - span.mark) * span.on + unknown;
    let showing = |k: usize, sent: f32| {
        let sums = &reading.tones[k].sums;
        let x = sums[span.to] - sums[span.from];
        Showing {
            at: 0.0,
            span: length,
            power: x.norm_sqr() / (length * length),
            sent,
        }
    };
    [showing(0, mark), showing(1, space)]
}
