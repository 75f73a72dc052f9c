//! How the receiver warms up: an exponential fitted to where the tones were, and when it
//! will have settled.
//!
//! Within one stretch the tones lie at `c + a exp(-t / tau)`: `a` and `tau` are the
//! receiver's and the same all evening, `c` is another for each stretch, because the dial was
//! turned or another signal is followed. For a given `tau` this is a straight line fit; `tau`
//! is searched on a grid.

/// Where a tone was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Time since the receiver was switched on, or since listening began, s.
    pub at_s: f64,
    /// Audio frequency, Hz.
    pub hz: f64,
    /// Which stretch it belongs to.
    pub stretch: u32,
}

/// What the fit says.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Settling {
    /// How far the tones move in all, from time 0 on, Hz of audio: above 0 they come down.
    pub from_hz: f64,
    /// Time constant, s: after each, 37 % of the way is left.
    pub time_s: f64,
    /// What is left to go at the last point, Hz.
    pub left_hz: f64,
    /// When no more than [`SETTLED_HZ`] are left, s on the points' clock.
    pub settled_at_s: f64,
}

/// What counts as settled, Hz: no receiver of two tones notices as much.
pub const SETTLED_HZ: f64 = 3.0;
/// Fewest points for a fit.
const FEWEST: usize = 20;
/// Shortest time that must have gone by, s.
const SHORTEST_S: f64 = 40.0;
/// Time constants tried, s: from a small set with little to warm to a heavy one.
const TIMES_S: (f64, f64) = (15.0, 5400.0);
/// Time constants on the grid, evenly by ratio.
const GRID: usize = 80;
/// The exponential must explain this share of what moved, or nothing is claimed.
const EXPLAINED: f64 = 0.8;
/// It must have moved by this many times the scatter that is left.
const ABOVE_SCATTER: f64 = 6.0;

/// Sums of one stretch against `exp(-t / tau)`, both without their means.
#[derive(Clone, Copy, Default)]
struct Straight {
    amplitude: f64,
    left: f64,
    all: f64,
}

/// Fits the points, which are in order of time; `None` while nothing can be said.
pub fn settling(points: &[Point]) -> Option<Settling> {
    let (first, last) = (points.first()?, points.last()?);
    if points.len() < FEWEST || last.at_s - first.at_s < SHORTEST_S {
        return None;
    }
    let ratio = TIMES_S.1 / TIMES_S.0;
    let times = (0..GRID).map(|k| TIMES_S.0 * ratio.powf(k as f64 / (GRID - 1) as f64));
    let fits = times.map(|time_s| (time_s, line(points, time_s)));
    let (time_s, fit) = fits.min_by(|a, b| a.1.left.total_cmp(&b.1.left))?;
    let scatter = (fit.left / points.len() as f64).sqrt();
    let gone = |at_s: f64| fit.amplitude * (-at_s / time_s).exp();
    let moved_hz = (gone(first.at_s) - gone(last.at_s)).abs();
    let clear = fit.all - fit.left >= EXPLAINED * fit.all && moved_hz >= ABOVE_SCATTER * scatter;
    // Time constants at the end of the grid are those of a straight line: no end in sight.
    if !clear || moved_hz < SETTLED_HZ || time_s >= TIMES_S.1 * 0.99 {
        return None;
    }
    let settled_at_s = time_s * (fit.amplitude.abs() / SETTLED_HZ).ln();
    Some(Settling {
        from_hz: fit.amplitude,
        time_s,
        left_hz: gone(last.at_s),
        settled_at_s: settled_at_s.max(0.0),
    })
}

/// The least squares fit for one time constant.
fn line(points: &[Point], time_s: f64) -> Straight {
    let (mut cross, mut square, mut all) = (0.0, 0.0, 0.0);
    for stretch in points.chunk_by(|a, b| a.stretch == b.stretch) {
        let count = stretch.len() as f64;
        let shape = |p: &Point| (-p.at_s / time_s).exp();
        let mean_shape = stretch.iter().map(shape).sum::<f64>() / count;
        let mean_hz = stretch.iter().map(|p| p.hz).sum::<f64>() / count;
        for point in stretch {
            let (e, hz) = (shape(point) - mean_shape, point.hz - mean_hz);
            cross += e * hz;
            square += e * e;
            all += hz * hz;
        }
    }
    let amplitude = if square > 0.0 { cross / square } else { 0.0 };
    Straight {
        amplitude,
        left: (all - amplitude * cross).max(0.0),
        all,
    }
}

/// Where each stretch would lie had the dial never been turned, Hz relative to where the
/// receiver settles; without a fit, each stretch begins where the one before it ended.
pub fn joined(points: &[Point], settling: Option<&Settling>) -> Vec<(f64, f64)> {
    let mut joined: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for stretch in points.chunk_by(|a, b| a.stretch == b.stretch) {
        let count = stretch.len() as f64;
        let moved = match settling {
            Some(s) => {
                let model = |p: &Point| s.from_hz * (-p.at_s / s.time_s).exp();
                stretch.iter().map(|p| model(p) - p.hz).sum::<f64>() / count
            }
            None => joined.last().map_or(0.0, |l| l.1) - stretch[0].hz,
        };
        joined.extend(stretch.iter().map(|p| (p.at_s, p.hz + moved)));
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A receiver that warms up; `turn_s` is how often somebody turns the dial.
    fn evening(from_hz: f64, time_s: f64, until_s: f64, turn_s: f64) -> Vec<Point> {
        let count = (until_s / 2.0) as u32;
        let wobble = |k: u32| f64::from(k * 7919 % 13) / 13.0 - 0.5;
        let point = |k: u32| {
            let at_s = 2.0 * f64::from(k);
            let stretch = (at_s / turn_s) as u32;
            let warm = from_hz * (-at_s / time_s).exp();
            Point {
                at_s,
                hz: 1500.0 + 170.0 * f64::from(stretch % 3) + warm + wobble(k),
                stretch,
            }
        };
        (0..count).map(point).collect()
    }

    #[test]
    fn the_end_of_the_warm_up_is_foretold() {
        let points = evening(-120.0, 600.0, 500.0, 1e9);
        let fit = settling(&points).expect("it is clear");
        assert!((fit.time_s / 600.0 - 1.0).abs() < 0.12, "{fit:?}");
        assert!((fit.from_hz / -120.0 - 1.0).abs() < 0.12, "{fit:?}");
        // 600 s times ln(120 / 3).
        assert!((fit.settled_at_s / 2213.3 - 1.0).abs() < 0.15, "{fit:?}");
    }

    #[test]
    fn nothing_is_claimed_without_reason() {
        assert_eq!(settling(&[]), None);
        assert_eq!(
            settling(&evening(100.0, 300.0, 30.0, 1e9)),
            None,
            "too short"
        );
        assert_eq!(
            settling(&evening(0.0, 300.0, 600.0, 1e9)),
            None,
            "it stands still"
        );
        let straight = |k: u32| Point {
            at_s: f64::from(k),
            hz: 0.05 * f64::from(k),
            stretch: 0,
        };
        let line: Vec<Point> = (0..600).map(straight).collect();
        assert_eq!(settling(&line), None, "no end in sight");
    }

    #[test]
    fn stretches_are_joined_into_one_curve() {
        let points = evening(80.0, 200.0, 600.0, 110.0);
        let fit = settling(&points).expect("it is clear");
        for (at_s, hz) in joined(&points, Some(&fit)) {
            let expected = 80.0 * (-at_s / 200.0_f64).exp();
            assert!(
                (hz - expected).abs() < 4.0,
                "{at_s} s: {hz}, not {expected}"
            );
        }
        let rough = joined(&points, None);
        assert!(rough.windows(2).all(|w| (w[1].1 - w[0].1).abs() < 3.0));
    }

    proptest! {
        #[test]
        fn turning_the_dial_changes_little(
            from_hz in prop_oneof![-300.0..-40.0, 40.0..300.0],
            time_s in 60.0..900.0,
            turn_s in 120.0..400.0,
        ) {
            let fit = settling(&evening(from_hz, time_s, 2.0 * time_s, turn_s));
            let fit = fit.expect("two time constants are enough");
            prop_assert!((fit.time_s / time_s - 1.0).abs() < 0.25, "{fit:?}");
            prop_assert!((fit.from_hz / from_hz - 1.0).abs() < 0.25, "{fit:?}");
        }

        #[test]
        fn nothing_breaks_it(points in prop::collection::vec((0.0..1e4, -1e9..1e9, 0_u32..5), 0..60)) {
            let mut points: Vec<Point> = points
                .into_iter()
                .map(|(at_s, hz, stretch)| Point { at_s, hz, stretch })
                .collect();
            points.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
            let fit = settling(&points);
            prop_assert_eq!(joined(&points, fit.as_ref()).len(), points.len());
        }
    }
}
