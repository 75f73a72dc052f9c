//! Edges where the curve crosses 0, and how much noise moves them.

use super::discriminator::{Curve, median};
use crate::line::Edge;

/// A condition counts once the curve has come this far to its side.
const FAR: f64 = 0.3;
/// Standard deviation of a Gaussian over its median absolute deviation.
const MAD: f64 = 1.4826;

/// The edges of the curve; above 0 is mark.
///
/// Where noise makes it cross several times, the edge is put in the middle between the last
/// crossing out of the old condition and the first into the new one, so that it is late as
/// often as early.
pub(super) fn edges(curve: &Curve) -> Vec<Edge> {
    let mut edges = Vec::new();
    let mut condition: Option<bool> = None;
    // First and latest crossing since the condition was last sure.
    let mut first_s = None;
    let mut into_s = f64::NAN;
    for (k, pair) in curve.values.windows(2).enumerate() {
        let (before, now) = (pair[0], pair[1]);
        if now.is_nan() {
            first_s = None;
            continue;
        }
        if (before > 0.0) != (now > 0.0) {
            let part = if before.is_nan() {
                1.0
            } else {
                before / (before - now)
            };
            into_s = curve.begin_s + (k as f64 + part) / curve.rate_hz;
            first_s = first_s.or(Some(into_s));
        }
        if now.abs() < FAR {
            continue;
        }
        let mark = now > 0.0;
        if condition.is_some_and(|c| c != mark) {
            let at_s = (first_s.unwrap_or(into_s) + into_s) / 2.0;
            edges.push(Edge { at_s, mark });
        }
        condition = Some(mark);
        first_s = None;
    }
    edges
}

/// How much noise moves an edge, rms, s.
///
/// Away from edges the curve scatters around +1 and -1; where it crosses, it climbs by 4 in
/// the length of its window (a Hann window's middle weighs 2 over its length, and the step
/// is 2).
pub(super) fn noise_s(curve: &Curve, edges: &[Edge]) -> f64 {
    let clear_s = 0.6 * curve.window_s;
    let mut next = 0;
    let mut off = Vec::new();
    for (k, value) in curve.values.iter().enumerate() {
        let at_s = curve.begin_s + k as f64 / curve.rate_hz;
        while next < edges.len() && edges[next].at_s < at_s {
            next += 1;
        }
        let after = edges.get(next).is_some_and(|e| e.at_s - at_s < clear_s);
        let before = next > 0 && at_s - edges[next - 1].at_s < clear_s;
        let outside = next == 0 || next == edges.len();
        if !(after || before || outside || value.is_nan()) {
            off.push((value.abs() - 1.0).abs());
        }
    }
    median(off.into_iter()).unwrap_or(0.0) * MAD * curve.window_s / 4.0
}
