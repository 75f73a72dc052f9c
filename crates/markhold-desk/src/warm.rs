//! The receiver's drift since listening began, collected from what is followed.

use crate::settle::{Point, Settling, joined, settling};
use markhold_station::FollowedPoint;
use markhold_station::report::Followed;
use serde::Serialize;

/// Time between two points, s.
const EVERY_S: f64 = 2.0;
/// More than this between two points is a turn of the dial, not drift, Hz.
const TURN_HZ: f64 = 6.0;
/// After as long without a signal anything may have happened, s.
const PAUSE_S: f64 = 12.0;
/// Points kept; when there are more, every other one of the older half goes.
const MOST: usize = 2400;
/// Points of the curve that is drawn.
const DRAWN: usize = 240;

/// What the page draws.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Drifted {
    /// Time, s, and drift, Hz: from where it will settle, or from the first point.
    pub curve: Vec<(f64, f64)>,
    /// What the fit says, if it says anything.
    pub settling: Option<Settling>,
    /// How fast the tones moved over the last two minutes, Hz a minute.
    pub hz_per_min: Option<f64>,
}

/// Collects where the tones were.
#[derive(Debug, Default)]
pub struct Warm {
    points: Vec<Point>,
    signal: u32,
    stretch: u32,
}

impl Warm {
    /// All that a snapshot holds.
    pub fn of<'a>(points: impl IntoIterator<Item = &'a FollowedPoint>) -> Self {
        let mut warm = Self::default();
        for p in points {
            warm.add(p.signal, p.at_s, (p.mark_hz + p.space_hz) / 2.0);
        }
        warm
    }

    /// Takes what is followed now; the first that is copied counts.
    pub fn take(&mut self, followed: &[Followed]) {
        if let Some(f) = followed.iter().find(|f| f.copied) {
            let middle_hz = f.signal.tones().middle_hz();
            self.add(f.signal.id.0, f.signal.until_s, middle_hz);
        }
    }

    fn add(&mut self, signal: u32, at_s: f64, hz: f64) {
        if let Some(last) = self.points.last() {
            if at_s - last.at_s < EVERY_S {
                return;
            }
            let turned = (hz - last.hz).abs() > TURN_HZ || at_s - last.at_s > PAUSE_S;
            if signal != self.signal || turned {
                self.stretch += 1;
            }
        }
        self.signal = signal;
        let stretch = self.stretch;
        self.points.push(Point { at_s, hz, stretch });
        if self.points.len() > MOST {
            self.thin();
        }
    }

    fn thin(&mut self) {
        let half = MOST / 2;
        let mut place = 0;
        self.points.retain(|_| {
            place += 1;
            place > half || place % 2 == 0
        });
    }

    /// What to draw.
    pub fn drifted(&self) -> Drifted {
        let settling = settling(&self.points);
        let all = joined(&self.points, settling.as_ref());
        let step = all.len().div_ceil(DRAWN).max(1);
        let rounded =
            |(t, hz): &(f64, f64)| ((t * 10.0).round() / 10.0, (hz * 10.0).round() / 10.0);
        Drifted {
            curve: all.iter().step_by(step).map(rounded).collect(),
            settling,
            hz_per_min: slope(&all),
        }
    }
}

/// The slope over the last two minutes, Hz a minute; `None` before half a minute.
fn slope(all: &[(f64, f64)]) -> Option<f64> {
    let end_s = all.last()?.0;
    let late: Vec<_> = all.iter().filter(|p| p.0 > end_s - 120.0).collect();
    if late.first()?.0 > end_s - 30.0 {
        return None;
    }
    let count = late.len() as f64;
    let mean_s = late.iter().map(|p| p.0).sum::<f64>() / count;
    let mean_hz = late.iter().map(|p| p.1).sum::<f64>() / count;
    let cross: f64 = late.iter().map(|p| (p.0 - mean_s) * (p.1 - mean_hz)).sum();
    let square: f64 = late.iter().map(|p| (p.0 - mean_s).powi(2)).sum();
    (square > 0.0).then(|| 60.0 * cross / square)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn warming(until_s: u32, turned_at_s: u32) -> Warm {
        let mut warm = Warm::default();
        for t in 0..until_s {
            let turned = if t >= turned_at_s { 300.0 } else { 0.0 };
            let hz = 2000.0 + turned + 90.0 * (-f64::from(t) / 120.0).exp();
            warm.add(1, f64::from(t), hz);
        }
        warm
    }

    #[test]
    fn a_turn_of_the_dial_is_no_drift() {
        let drifted = warming(400, 200).drifted();
        let settling = drifted.settling.expect("it is clear");
        assert!((settling.time_s - 120.0).abs() < 20.0, "{settling:?}");
        assert!(drifted.curve.iter().all(|p| p.1.abs() < 100.0));
    }

    #[test]
    fn the_rate_of_late_is_that_of_the_curve() {
        let rate = warming(120, 1000)
            .drifted()
            .hz_per_min
            .expect("long enough");
        // The mean of the derivative over two minutes: 90 (1 - 1/e) in two minutes, nearly.
        assert!((rate + 28.0).abs() < 4.0, "{rate}");
        assert_eq!(Warm::default().drifted(), Drifted::default());
    }

    #[test]
    fn an_evening_is_bounded() {
        let warm = warming(20_000, 100_000);
        assert!(warm.points.len() <= MOST);
        assert!(warm.drifted().curve.len() <= DRAWN);
        assert_eq!(warm.points.last().map(|p| p.at_s), Some(19_998.0));
    }
}
