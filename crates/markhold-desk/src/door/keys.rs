//! Keys that were handed out for a code: a browser keeps one in a cookie.

use super::NoSecrets;
use std::fmt::Write;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use subtle::ConstantTimeEq;

/// Name of the cookie.
pub const COOKIE: &str = "markhold_key";
/// Bytes of a key.
const LENGTH: usize = 32;
/// Most keys held; the oldest is forgotten for the next. Nobody has so many screens.
const MOST: usize = 32;
/// A key that was not used for so long is forgotten: from one evening to the next.
const UNUSED: Duration = Duration::from_secs(24 * 3600);
/// No key lives longer, used or not.
const LONGEST: Duration = Duration::from_secs(7 * 24 * 3600);

struct Key {
    key: String,
    made: Instant,
    used: Instant,
}

/// The keys handed out since the start.
#[derive(Default)]
pub struct Keys {
    held: Mutex<Vec<Key>>,
}

impl Keys {
    /// A new key, as 64 hexadecimal signs.
    ///
    /// # Errors
    ///
    /// The system has no random numbers.
    pub fn hand_out(&self, now: Instant) -> Result<String, NoSecrets> {
        let mut bytes = [0_u8; LENGTH];
        getrandom::fill(&mut bytes)?;
        let mut key = String::new();
        for byte in bytes {
            // Writing to a string never fails.
            let _ = write!(key, "{byte:02x}");
        }
        let mut held = self.held();
        if held.len() == MOST {
            held.remove(0);
        }
        held.push(Key {
            key: key.clone(),
            made: now,
            used: now,
        });
        Ok(key)
    }

    /// Whether this key was handed out and is still good; it is used by that.
    pub fn holds(&self, key: &str, now: Instant) -> bool {
        let mut held = self.held();
        held.retain(|k| {
            now.saturating_duration_since(k.used) < UNUSED
                && now.saturating_duration_since(k.made) < LONGEST
        });
        // Every key is compared, and each in constant time.
        held.iter_mut().fold(false, |found, k| {
            let same = bool::from(k.key.as_bytes().ct_eq(key.as_bytes()));
            if same {
                k.used = now;
            }
            found | same
        })
    }

    /// Forgets all; how many there were.
    pub fn forget(&self) -> usize {
        std::mem::take(&mut *self.held()).len()
    }

    fn held(&self) -> MutexGuard<'_, Vec<Key>> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The keys in a `Cookie` header. There may be several: cookies of one machine are not told
/// apart by port.
pub fn keys_in(cookies: &str) -> impl Iterator<Item = &str> {
    cookies
        .split(';')
        .filter_map(|c| c.trim().strip_prefix(COOKIE)?.strip_prefix('='))
        .take(MOST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cookies_are_read() {
        let keys = |cookies| keys_in(cookies).collect::<Vec<_>>();
        assert_eq!(keys("a=b; markhold_key=12; c=d"), ["12"]);
        assert_eq!(keys("markhold_key=1;markhold_key=2"), ["1", "2"]);
        assert!(keys("markhold_keyring=12").is_empty() && keys("").is_empty());
    }

    #[test]
    fn the_oldest_key_is_forgotten() {
        let (keys, now) = (Keys::default(), Instant::now());
        let first = keys.hand_out(now).expect("random");
        assert_eq!(first.len(), 2 * LENGTH);
        for _ in 1..MOST {
            keys.hand_out(now).expect("random");
        }
        assert!(keys.holds(&first, now) && !keys.holds("", now));
        keys.hand_out(now).expect("random");
        assert!(!keys.holds(&first, now));
    }

    #[test]
    fn keys_end_unused_after_a_day_and_in_any_case_after_a_week() {
        let (keys, mut now) = (Keys::default(), Instant::now());
        let unused = keys.hand_out(now).expect("random");
        let used = keys.hand_out(now).expect("random");
        let begin = now;
        while now < begin + LONGEST {
            assert!(keys.holds(&used, now));
            now += UNUSED / 2;
        }
        assert!(!keys.holds(&used, now) && !keys.holds(&unused, now));
        let other = keys.hand_out(now).expect("random");
        assert!(!keys.holds(&other, now + UNUSED));
    }

    #[test]
    fn all_are_forgotten_at_once() {
        let (keys, now) = (Keys::default(), Instant::now());
        let two = [(); 2].map(|()| keys.hand_out(now).expect("random"));
        assert_eq!(keys.forget(), 2);
        assert!(two.iter().all(|key| !keys.holds(key, now)));
    }
}
