//! Edges where the curve crosses 0, and how much noise moves them.

use super::discriminator::Curve;
use crate::line::Edge;

/// A condition counts once the curve has come this far to its side.
const FAR: f64 = 0.3;
/// Gaussian noise hardly ever reaches so many sigma (about 4 in a minute of sound); a
/// discriminator below its threshold does, by clicks. One of those near an edge may move it
/// by half the window.
const CLICK: f64 = 6.0;

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
        // A gap may hide a crossing: its end stands for it.
        if before.is_nan() || (before > 0.0) != (now > 0.0) {
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

/// How much noise moves an edge, s: rms, and the most that was seen.
///
/// Away from edges the curve scatters around +1 and -1; where it crosses, it climbs by 4 in
/// the length of its window (a Hann window's middle weighs 2 over its length, and the step
/// is 2). Clicks of the discriminator are rare and far out: the most seen allows for them.
pub(super) fn noise_s(curve: &Curve, edges: &[Edge]) -> (f64, f64) {
    let clear_s = 0.6 * curve.window_s;
    let mut next = 0;
    let (mut squares, mut worst, mut count) = (0.0, 0.0_f64, 0_u64);
    for (k, value) in curve.values.iter().enumerate() {
        let at_s = curve.begin_s + k as f64 / curve.rate_hz;
        while next < edges.len() && edges[next].at_s < at_s {
            next += 1;
        }
        let after = edges.get(next).is_some_and(|e| e.at_s - at_s < clear_s);
        let before = next > 0 && at_s - edges[next - 1].at_s < clear_s;
        let outside = next == 0 || next == edges.len();
        if !(after || before || outside || value.is_nan()) {
            // Beyond 2 the window holds a click that would have made an edge.
            let off = (value.abs() - 1.0).abs().min(2.0);
            squares += off * off;
            worst = worst.max(off);
            count += 1;
        }
    }
    let rms = (squares / count.max(1) as f64).sqrt();
    if worst > CLICK * rms {
        worst = 2.0;
    }
    let moves_s = curve.window_s / 4.0;
    (rms * moves_s, worst * moves_s)
}

#[cfg(test)]
mod tests {
    use super::super::Pair;
    use super::*;

    fn curve(values: Vec<f64>) -> Curve {
        Curve {
            values,
            rate_hz: 10.0,
            begin_s: 1.0,
            window_s: 0.4,
            pair: Pair {
                low_hz: 1000.0,
                high_hz: 1100.0,
            },
        }
    }

    fn found(values: &[f64]) -> Vec<(f64, bool)> {
        let edges = edges(&curve(values.to_vec()));
        edges.iter().map(|e| (e.at_s, e.mark)).collect()
    }

    #[test]
    fn crossings_are_interpolated() {
        let found = found(&[1.0, 0.5, -0.5, -1.0, -0.4, 0.1, 1.0]);
        assert!((found[0].0 - 1.15).abs() < 1e-12 && !found[0].1);
        assert!((found[1].0 - 1.48).abs() < 1e-12 && found[1].1);
        assert_eq!(found.len(), 2);
    }

    #[test]
    fn chatter_is_one_edge_in_its_middle() {
        let found = found(&[1.0, 1.0, 0.1, -0.1, 0.1, -0.1, -1.0]);
        assert_eq!(found.len(), 1);
        assert!((found[0].0 - 1.35).abs() < 1e-12, "{found:?}");
    }

    #[test]
    fn what_comes_back_is_no_edge() {
        assert!(found(&[1.0, -0.2, 1.0, -0.1, 0.9]).is_empty());
    }

    #[test]
    fn a_gap_gives_ascending_edges_only() {
        let gap = f64::NAN;
        let all = [
            vec![1.0, -1.0, gap, 1.0, gap, gap, -1.0, 1.0],
            vec![gap, 1.0, gap, -1.0, gap, 1.0, gap, -1.0],
            vec![1.0, -1.0, 1.0, gap, -1.0, -1.0, gap, -1.0],
        ];
        for values in all {
            let edges = edges(&curve(values.clone()));
            assert_eq!(crate::line::check(&edges), Ok(()), "{values:?} {edges:?}");
            assert!(edges.len() > 1);
        }
    }
}
