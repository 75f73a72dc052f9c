//! A person's leave to send, for a stated time.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Leave to send. Clones are the same leave. It begins without any, and ends by itself.
#[derive(Clone, Debug, Default)]
pub struct Arming(Arc<Mutex<Option<Instant>>>);

impl Arming {
    /// Nobody has armed it.
    pub fn new() -> Self {
        Arming::default()
    }

    /// A person arms it, for so long from now.
    pub fn arm(&self, lasts: Duration) {
        *self.until() = Instant::now().checked_add(lasts);
    }

    /// Takes the leave back.
    pub fn disarm(&self) {
        *self.until() = None;
    }

    /// How much longer may be sent; `None` = not armed.
    pub fn left(&self) -> Option<Duration> {
        let left = (*self.until())?.saturating_duration_since(Instant::now());
        (!left.is_zero()).then_some(left)
    }

    fn until(&self) -> std::sync::MutexGuard<'_, Option<Instant>> {
        // It is whole after every statement.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn leave_is_given_ends_and_is_taken_back() {
        let arming = Arming::new();
        assert_eq!(arming.left(), None);
        arming.clone().arm(Duration::from_secs(60));
        assert!(
            arming
                .left()
                .is_some_and(|left| left > Duration::from_secs(59))
        );
        arming.disarm();
        assert_eq!(arming.left(), None);
        arming.arm(Duration::from_millis(5));
        std::thread::sleep(Duration::from_millis(6));
        assert_eq!(arming.left(), None);
        arming.arm(Duration::ZERO);
        assert_eq!(arming.left(), None);
    }
}
