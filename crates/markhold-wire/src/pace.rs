//! Characters at the line's pace, for ways that take bytes faster than the line runs.

use super::KeyerError;
use super::keyer::duration;
use markhold_code::StartStop;
use std::thread;
use std::time::{Duration, Instant};

/// When the line is free, by the clock.
pub(super) struct Pace {
    // Derived.
    character: Duration,
    stop: Duration,
    // State.
    free_at: Instant,
}

impl Pace {
    /// Errors: a speed that is none.
    pub(super) fn new(speed: StartStop) -> Result<Self, KeyerError> {
        Ok(Pace {
            character: duration(speed.character_s())?,
            stop: duration(speed.stop_s())?,
            free_at: Instant::now(),
        })
    }

    /// Waits from the beginning of a character until only its stop element is left. In an
    /// unbroken run the time is counted from the run's beginning.
    pub(super) fn character(&mut self) {
        self.free_at = self.free_at.max(Instant::now()) + self.character;
        sleep_until(self.free_at - self.stop);
    }

    /// Waits this long from when the line is free.
    pub(super) fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.free_at = self.free_at.max(Instant::now()) + duration(seconds)?;
        self.rest();
        Ok(())
    }

    /// Waits until the line is free.
    pub(super) fn rest(&self) {
        sleep_until(self.free_at);
    }

    /// The line is free now, whatever was reckoned.
    pub(super) fn restart(&mut self) {
        self.free_at = Instant::now();
    }
}

fn sleep_until(instant: Instant) {
    thread::sleep(instant.saturating_duration_since(Instant::now()));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The reckoning only; how well it is kept is for the bench.
    #[test]
    fn a_run_is_counted_from_its_beginning() {
        let mut pace = Pace::new(StartStop::new(1000.0, 1.5)).unwrap();
        let begin = pace.free_at;
        (0..20).for_each(|_| pace.character());
        assert!(pace.free_at - begin >= Duration::from_micros(20 * 7500));
        assert!(Instant::now() + pace.stop >= pace.free_at);
        pace.rest();
        assert!(Instant::now() >= pace.free_at);
        assert!(Pace::new(StartStop::new(0.0, 1.5)).is_err());
    }
}
