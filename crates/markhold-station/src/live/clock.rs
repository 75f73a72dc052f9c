//! The station's clock: read once from the computer's, then counted by one that nobody sets.
//!
//! A computer's clock may be set by hours while an evening is heard. Neither times nor gaps
//! believe that; the step is noted.

use jiff::{SignedDuration, Timestamp};
use std::time::Duration;

/// What the two clocks may come apart by before the computer's was set, not slewed: 500 ppm
/// (the most that is slewed, common practice) of half an hour, s.
const STEP_S: f64 = 1.0;

/// How often the computer's clock is looked at.
const LOOK: Duration = Duration::from_secs(1);

/// Two clocks to look at.
pub struct Clocks {
    /// The computer's, which may be set.
    pub wall: Box<dyn Fn() -> Timestamp + Send>,
    /// One that only goes forward, also while the computer sleeps; from any beginning.
    pub steady: Box<dyn Fn() -> Duration + Send>,
}

impl Default for Clocks {
    /// Those of this computer.
    fn default() -> Self {
        Clocks {
            wall: Box::new(Timestamp::now),
            steady: steady(),
        }
    }
}

#[cfg(target_os = "linux")]
fn steady() -> Box<dyn Fn() -> Duration + Send> {
    use rustix::time::{ClockId, clock_gettime};
    Box::new(|| {
        let now = clock_gettime(ClockId::Boottime);
        Duration::new(now.tv_sec.unsigned_abs(), now.tv_nsec as u32)
    })
}

#[cfg(not(target_os = "linux"))]
fn steady() -> Box<dyn Fn() -> Duration + Send> {
    let begin = std::time::Instant::now();
    Box::new(move || begin.elapsed())
}

/// The station's clock.
pub(super) struct StationClock {
    // Configured.
    clocks: Clocks,
    begin: (Timestamp, Duration),
    // State.
    /// By how much the computer's clock is ahead of this one, as far as it was told, s.
    ahead_s: f64,
    looked: Duration,
}

impl StationClock {
    pub(super) fn new(clocks: Clocks) -> Self {
        let begin = ((clocks.wall)(), (clocks.steady)());
        StationClock {
            clocks,
            begin,
            ahead_s: 0.0,
            looked: begin.1,
        }
    }

    pub(super) fn now(&self) -> Timestamp {
        let (wall, steady) = self.begin;
        let passed = (self.clocks.steady)().saturating_sub(steady);
        let passed = SignedDuration::try_from(passed).unwrap_or_default();
        wall.checked_add(passed).unwrap_or(wall)
    }

    /// By how much the computer's clock was put forward since this was last asked (back, below
    /// 0), s; `None` if it was not.
    pub(super) fn step(&mut self) -> Option<f64> {
        let now = (self.clocks.steady)();
        if now.saturating_sub(self.looked) < LOOK {
            return None;
        }
        self.looked = now;
        let ahead_s = (self.clocks.wall)()
            .duration_since(self.now())
            .as_secs_f64();
        let by_s = ahead_s - self.ahead_s;
        if by_s.abs() < STEP_S {
            return None;
        }
        self.ahead_s = ahead_s;
        Some(by_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicI64, Ordering::SeqCst};

    #[test]
    fn a_clock_that_is_set_moves_no_time_and_is_told_once() {
        let (wall, steady) = (
            Arc::new(AtomicI64::new(1_790_000_000)),
            Arc::new(AtomicI64::new(7)),
        );
        let (w, s) = (wall.clone(), steady.clone());
        let mut clock = StationClock::new(Clocks {
            wall: Box::new(move || Timestamp::from_second(w.load(SeqCst)).unwrap()),
            steady: Box::new(move || Duration::from_secs(s.load(SeqCst).unsigned_abs())),
        });
        let begin = clock.now();
        let mut go = |seconds: i64, set: i64| {
            steady.fetch_add(seconds, SeqCst);
            wall.fetch_add(seconds + set, SeqCst);
            (clock.now().duration_since(begin).as_secs(), clock.step())
        };
        assert_eq!(go(10, 0), (10, None));
        assert_eq!(go(10, 86_400), (20, Some(86_400.0)));
        assert_eq!(go(10, 0), (30, None));
        assert_eq!(go(10, -86_400 - 3_600), (40, Some(-90_000.0)));
        assert_eq!(go(0, 50), (40, None), "it looks once a second");
        assert_eq!(go(1, 0), (41, Some(50.0)));
    }
}
