//! The permission to key, which ends when nobody watches any more.

use super::OWN_LIMIT;
use crate::KeyerError;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

/// Permission to put a line to space. Clones are the same permission.
#[derive(Clone, Debug)]
pub struct Permit(Arc<State>);

#[derive(Debug)]
struct State {
    begun: Instant,
    /// When this program's own beat was made last, ms.
    beat_ms: AtomicU64,
    /// When the guardian was heard last, ms.
    heard_ms: AtomicU64,
    /// Since when the line is in space, ms; [`MARK`] in mark.
    space_ms: AtomicU64,
    /// When what is sent with a keyed transmitter went on last, ms; [`MARK`] = it is unkeyed.
    moved_ms: AtomicU64,
    /// Set once and for ever.
    revoked: OnceLock<Revoked>,
}

const MARK: u64 = u64::MAX;

/// Why nothing may be keyed any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Revoked {
    /// Its end of the socket is closed.
    GuardianGone,
    /// For how long, ms.
    GuardianSilent(u64),
    /// This program did nothing for so long, ms.
    HeldUp(u64),
    /// The line stayed in space for so long, ms.
    Stuck(u64),
    /// The transmitter was keyed and nothing was sent for so long, ms.
    Still(u64),
}

impl Permit {
    /// The guardian has just been heard.
    pub(super) fn new() -> Self {
        Permit(Arc::new(State {
            begun: Instant::now(),
            beat_ms: AtomicU64::new(0),
            heard_ms: AtomicU64::new(0),
            space_ms: AtomicU64::new(MARK),
            moved_ms: AtomicU64::new(MARK),
            revoked: OnceLock::new(),
        }))
    }

    /// Whether a line may be put to space now. It is to be asked once more afterwards, and
    /// the line put to mark if the answer has changed: so no line stays in space that was
    /// put to rest between the question and the keying.
    ///
    /// # Errors
    ///
    /// Nobody watches any more, and why.
    pub fn check(&self) -> Result<(), KeyerError> {
        let limit_ms = OWN_LIMIT.as_millis() as u64;
        let (own_ms, silent_ms) = (self.since_ms(&self.0.beat_ms), self.silent_ms());
        if own_ms > limit_ms {
            self.revoke(Revoked::HeldUp(own_ms));
        } else if silent_ms > limit_ms {
            self.revoke(Revoked::GuardianSilent(silent_ms));
        }
        self.0.revoked.get().map_or(Ok(()), |why| Err(why.error()))
    }

    /// The line goes to space now, or to mark.
    pub fn keyed(&self, mark: bool) {
        let since = if mark { MARK } else { self.now_ms() };
        self.0.space_ms.store(since, Ordering::Release);
    }

    /// A transmitter is keyed, and what is sent with it has just gone on. From here on it must
    /// go on again and again, until [`rests`](Self::rests).
    pub fn moves(&self) {
        self.0.moved_ms.store(self.now_ms(), Ordering::Release);
    }

    /// The transmitter is unkeyed: nothing needs to go on.
    pub fn rests(&self) {
        self.0.moved_ms.store(MARK, Ordering::Release);
    }

    /// Only the first reason counts.
    pub(super) fn revoke(&self, why: Revoked) {
        let _ = self.0.revoked.set(why);
    }

    pub(super) fn is_revoked(&self) -> bool {
        self.0.revoked.get().is_some()
    }

    /// Whether it was revoked because the guardian did not answer.
    pub(super) fn guardian_hangs(&self) -> bool {
        matches!(self.0.revoked.get(), Some(Revoked::GuardianSilent(_)))
    }

    pub(super) fn beats(&self) {
        self.0.beat_ms.store(self.now_ms(), Ordering::Release);
    }

    pub(super) fn heard(&self) {
        self.0.heard_ms.store(self.now_ms(), Ordering::Release);
    }

    /// How long the guardian has been silent, ms.
    pub(super) fn silent_ms(&self) -> u64 {
        self.since_ms(&self.0.heard_ms)
    }

    fn since_ms(&self, then_ms: &AtomicU64) -> u64 {
        self.now_ms()
            .saturating_sub(then_ms.load(Ordering::Acquire))
    }

    /// How long the line has been in space.
    pub(super) fn in_space(&self) -> Duration {
        self.since(&self.0.space_ms)
    }

    /// How long nothing was sent with a keyed transmitter.
    pub(super) fn still(&self) -> Duration {
        self.since(&self.0.moved_ms)
    }

    fn since(&self, then_ms: &AtomicU64) -> Duration {
        match then_ms.load(Ordering::Acquire) {
            MARK => Duration::ZERO,
            since => Duration::from_millis(self.now_ms().saturating_sub(since)),
        }
    }

    fn now_ms(&self) -> u64 {
        self.0.begun.elapsed().as_millis() as u64
    }
}

impl Revoked {
    fn error(self) -> KeyerError {
        let (what, remedy) = match self {
            Revoked::GuardianGone => (
                "the process that watches over the line has died".to_string(),
                "begin again; if it happens again, find out what ends it",
            ),
            Revoked::GuardianSilent(ms) => (
                format!("the process that watches over the line was silent for {ms} ms"),
                "close busy programs or allow real-time priority, then begin again",
            ),
            Revoked::HeldUp(ms) => (
                format!("this program was held up for {ms} ms"),
                "close busy programs or allow real-time priority, then begin again",
            ),
            Revoked::Stuck(ms) => (
                format!("the line stayed in space for {ms} ms"),
                "look at the port and its adapter, then begin again",
            ),
            Revoked::Still(ms) => (
                format!("the transmitter was keyed and nothing was sent for {ms} ms"),
                "look at the sound output or port, then begin again",
            ),
        };
        KeyerError::Unguarded {
            what,
            remedy: remedy.into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_permit_ends_by_being_revoked_and_only_once() {
        let permit = Permit::new();
        assert!(permit.check().is_ok() && !permit.is_revoked());
        permit.revoke(Revoked::GuardianGone);
        permit.revoke(Revoked::HeldUp(3));
        let error = permit.clone().check().unwrap_err();
        assert!(
            error.to_string().contains("has died; the line was put"),
            "{error}"
        );
        assert!(!error.may_reopen());
        permit.heard();
        assert!(permit.check().is_err());
    }

    /// A program that goes on after it was stopped finds its permit too old.
    #[test]
    fn a_permit_that_nobody_renewed_is_too_old() {
        let permit = Permit::new();
        std::thread::sleep(OWN_LIMIT + Duration::from_millis(20));
        let error = permit.check().unwrap_err();
        assert!(error.to_string().contains("held up for 4"), "{error}");
    }

    #[test]
    fn space_is_counted_and_mark_is_not() {
        let permit = Permit::new();
        permit.keyed(false);
        std::thread::sleep(Duration::from_millis(5));
        assert!(permit.in_space() >= Duration::from_millis(4));
        permit.keyed(true);
        assert_eq!(permit.in_space(), Duration::ZERO);
        permit.moves();
        std::thread::sleep(Duration::from_millis(5));
        assert!(permit.still() >= Duration::from_millis(4));
        permit.rests();
        assert_eq!(permit.still(), Duration::ZERO);
    }
}
