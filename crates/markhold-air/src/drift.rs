//! How a frequency moves: slowly, while warming up, in jumps.

use crate::error::{SceneError, within};

/// A sudden change of frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jump {
    /// When, s from the first sample.
    pub at_s: f64,
    /// By how much, Hz of audio.
    pub by_hz: f64,
}

/// A change of frequency that comes at even intervals, up and down in turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hops {
    /// Time from one to the next, and before the first, s.
    pub period_s: f64,
    /// By how much, Hz of audio: up by this, then down by this, and so on.
    pub by_hz: f64,
}

/// How a frequency moves over time, as heard in the audio. The default stands still.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Drift {
    /// Steady drift, Hz per second.
    pub linear_hz_per_s: f64,
    /// Drift of an oscillator that warms up: how far it goes in the end, Hz.
    pub warm_up_hz: f64,
    /// Time constant of the warm-up, s: after it 63 % of the way is done.
    pub warm_up_s: f64,
    /// Sudden jumps, in any order.
    pub jumps: Vec<Jump>,
    /// Jumps up and down in turn.
    pub hops: Option<Hops>,
}

impl Drift {
    /// How far the frequency has moved at a time, Hz; 0 at the first sample unless a jump
    /// falls there.
    pub fn hz_at(&self, time_s: f64) -> f64 {
        self.slow_hz(time_s) + self.listed_hz(time_s) + self.hopped_hz(time_s)
    }

    /// All jumps and hops up to a time, in order of time.
    pub fn jumps_until(&self, until_s: f64) -> Vec<Jump> {
        let hops = self.hops.into_iter().flat_map(|hops| {
            let count = (until_s / hops.period_s).max(0.0) as u64;
            (1..=count).map(move |k| Jump {
                at_s: k as f64 * hops.period_s,
                by_hz: if k % 2 == 1 { hops.by_hz } else { -hops.by_hz },
            })
        });
        let mut all: Vec<Jump> = self
            .jumps
            .iter()
            .copied()
            .filter(|j| j.at_s <= until_s)
            .chain(hops)
            .collect();
        all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        all
    }

    /// Bounds of all movement up to a time, Hz: lowest and highest.
    pub(crate) fn extent_hz(&self, until_s: f64) -> (f64, f64) {
        // Between jumps the slow part has one bend at most; a fine grid and both sides of
        // every listed jump find its ends closely enough for a check of band limits.
        let grid = (0..=200).map(|k| f64::from(k) / 200.0 * until_s);
        let jumps = self.jumps.iter().flat_map(|j| [j.at_s - 1e-9, j.at_s]);
        let times = grid.chain(jumps).filter(|t| (0.0..=until_s).contains(t));
        let (low, high) = times
            .map(|t| self.slow_hz(t) + self.listed_hz(t))
            .fold((0.0_f64, 0.0_f64), |(low, high), hz| {
                (low.min(hz), high.max(hz))
            });
        let hop = self
            .hops
            .filter(|h| h.period_s <= until_s)
            .map_or(0.0, |h| h.by_hz);
        (low + hop.min(0.0), high + hop.max(0.0))
    }

    pub(crate) fn check(&self, whose: &str) -> Result<(), SceneError> {
        let hz = (-1e4, 1e4);
        within(
            format!("linear drift of {whose}"),
            self.linear_hz_per_s,
            hz,
            "Hz/s",
        )?;
        within(
            format!("warm-up drift of {whose}"),
            self.warm_up_hz,
            hz,
            "Hz",
        )?;
        let least = if self.warm_up_hz == 0.0 { 0.0 } else { 1e-3 };
        within(
            format!("warm-up time of {whose}"),
            self.warm_up_s,
            (least, 1e6),
            "s",
        )?;
        for jump in &self.jumps {
            within(
                format!("time of a jump of {whose}"),
                jump.at_s,
                (0.0, 1e7),
                "s",
            )?;
            within(format!("a jump of {whose}"), jump.by_hz, hz, "Hz")?;
        }
        if let Some(hops) = self.hops {
            within(
                format!("period of the hops of {whose}"),
                hops.period_s,
                (0.1, 1e6),
                "s",
            )?;
            within(format!("the hops of {whose}"), hops.by_hz, hz, "Hz")?;
        }
        Ok(())
    }

    /// Movement without jumps, Hz.
    pub(crate) fn slow_hz(&self, time_s: f64) -> f64 {
        let warm_up = if self.warm_up_hz == 0.0 {
            0.0
        } else {
            self.warm_up_hz * -(-time_s / self.warm_up_s).exp_m1()
        };
        self.linear_hz_per_s * time_s + warm_up
    }

    fn listed_hz(&self, time_s: f64) -> f64 {
        self.jumps
            .iter()
            .filter(|j| j.at_s <= time_s)
            .map(|j| j.by_hz)
            .sum()
    }

    fn hopped_hz(&self, time_s: f64) -> f64 {
        self.hops.map_or(0.0, |hops| {
            let up = (time_s / hops.period_s).max(0.0) as u64 % 2 == 1;
            if up { hops.by_hz } else { 0.0 }
        })
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// Moves in every way at once.
    pub(crate) fn restless() -> Drift {
        Drift {
            linear_hz_per_s: 0.5,
            warm_up_hz: -30.0,
            warm_up_s: 2.0,
            jumps: vec![
                Jump {
                    at_s: 4.0,
                    by_hz: 7.0,
                },
                Jump {
                    at_s: 1.2345,
                    by_hz: -11.0,
                },
            ],
            hops: Some(Hops {
                period_s: 2.5,
                by_hz: 20.0,
            }),
        }
    }

    #[test]
    fn warm_up_is_63_percent_done_after_its_time_constant() {
        let drift = Drift {
            warm_up_hz: 100.0,
            warm_up_s: 5.0,
            ..Drift::default()
        };
        assert_eq!(drift.hz_at(0.0), 0.0);
        assert!((drift.hz_at(5.0) - 63.212).abs() < 1e-3);
        assert!((drift.hz_at(500.0) - 100.0).abs() < 1e-9);
    }

    #[test]
    fn hops_go_up_and_down_in_turn() {
        let jumps = Drift {
            hops: Some(Hops {
                period_s: 2.0,
                by_hz: 5.0,
            }),
            ..Drift::default()
        }
        .jumps_until(7.0);
        let listed: Vec<(f64, f64)> = jumps.iter().map(|j| (j.at_s, j.by_hz)).collect();
        assert_eq!(listed, [(2.0, 5.0), (4.0, -5.0), (6.0, 5.0)]);
    }

    #[test]
    fn the_extent_holds_every_movement() {
        let drift = restless();
        let (low, high) = drift.extent_hz(8.0);
        for k in 0..8000 {
            let hz = drift.hz_at(f64::from(k) / 1000.0);
            assert!(
                (low - 0.1..=high + 0.1).contains(&hz),
                "{hz} outside {low} to {high}"
            );
        }
    }
}
