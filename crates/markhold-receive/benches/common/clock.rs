//! Time spent on a processor.

use std::time::Instant;

/// When a run began: by the clock, and by this process's time on a processor where the
/// system tells it, so that other work on the machine does not count.
pub struct Begin {
    clock: Instant,
    on_processor_s: Option<f64>,
}

impl Begin {
    /// Now.
    pub fn now() -> Self {
        Self {
            clock: Instant::now(),
            on_processor_s: on_processor_s(),
        }
    }

    /// How long ago, s.
    pub fn elapsed_s(&self) -> f64 {
        match (self.on_processor_s, on_processor_s()) {
            (Some(begin), Some(end)) if end > begin => end - begin,
            _ => self.clock.elapsed().as_secs_f64(),
        }
    }
}

/// Time that this thread has spent on a processor, s: the first number of Linux's
/// `/proc/thread-self/schedstat`, in ns (kernel documentation, scheduler statistics).
fn on_processor_s() -> Option<f64> {
    let numbers = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = numbers.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds / 1e9)
}
